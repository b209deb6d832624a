//! What the car weighs and how the weight stands on its axles.

/// Something that goes into or comes out of the car.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Item {
    /// Mass, kg; negative for a part taken out.
    pub mass_kg: f64,
    /// Place behind the front axle, m (negative: ahead of it).
    pub behind_front_axle_m: f64,
}

/// A body on two axles.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chassis {
    /// Running mass: donor − removed + added + people and load, kg.
    pub mass_kg: f64,
    /// Distance between the axles, m.
    pub wheelbase_m: f64,
    /// Centre of gravity behind the front axle, m.
    pub cg_behind_front_axle_m: f64,
    /// Height of the centre of gravity over the road, m.
    pub cg_height_m: f64,
    /// Moment of inertia of all four wheels together, kg·m².
    pub wheels_inertia_kg_m2: f64,
}

impl Chassis {
    /// Sums a donor car and its items: `m = Σ m_i`, `x = Σ m_i·x_i / Σ m_i`.
    ///
    /// `donor_front_share` is the front axle's share of the donor's kerb mass, so that the donor's
    /// centre of gravity lies `(1 − share)·wheelbase` behind the front axle.
    /// Source: equilibrium of moments, any mechanics handbook.
    pub fn load(
        donor_mass_kg: f64,
        donor_front_share: f64,
        wheelbase_m: f64,
        cg_height_m: f64,
        wheels_inertia_kg_m2: f64,
        items: &[Item],
    ) -> Self {
        let donor_moment = donor_mass_kg * (1.0 - donor_front_share) * wheelbase_m;
        let mass_kg = donor_mass_kg + items.iter().map(|i| i.mass_kg).sum::<f64>();
        let moment =
            donor_moment + items.iter().map(|i| i.mass_kg * i.behind_front_axle_m).sum::<f64>();
        Self {
            mass_kg,
            wheelbase_m,
            cg_behind_front_axle_m: moment / mass_kg,
            cg_height_m,
            wheels_inertia_kg_m2,
        }
    }

    /// Mass on the front axle at rest on the level, kg.
    pub fn front_axle_kg(&self) -> f64 {
        self.mass_kg - self.rear_axle_kg()
    }

    /// Mass on the rear axle at rest on the level, kg.
    pub fn rear_axle_kg(&self) -> f64 {
        self.mass_kg * self.cg_behind_front_axle_m / self.wheelbase_m
    }
}
