//! The key without which nothing is answered.

use subtle::ConstantTimeEq;

/// A key that is new at each start.
pub struct Key(String);

impl Key {
    /// Takes 128 bits of the operating system's randomness.
    pub fn new() -> Result<Self, getrandom::Error> {
        let mut bytes = [0; 16];
        getrandom::fill(&mut bytes)?;
        Ok(Self(bytes.iter().map(|byte| format!("{byte:02x}")).collect()))
    }

    /// The key as it stands in the address.
    pub fn shown(&self) -> &str {
        &self.0
    }

    /// Whether this is the key; how long that takes says nothing about how much of it is right.
    pub fn is(&self, tried: &[u8]) -> bool {
        self.0.as_bytes().ct_eq(tried).into()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_is_new_and_no_other_one_fits() {
        let (one, other) = (Key::new().unwrap(), Key::new().unwrap());
        assert_eq!(one.shown().len(), 32);
        assert_ne!(one.shown(), other.shown());
        assert!(one.is(one.shown().as_bytes()) && !one.is(other.shown().as_bytes()));
        for wrong in ["", "0", &one.shown()[1..], &format!("{}0", one.shown())] {
            assert!(!one.is(wrong.as_bytes()), "{wrong}");
        }
    }
}
