//! Steps of an implicit method, for what is too stiff for an explicit one: something that follows at
//! once what the car does, beside which the rest of the car goes slowly.
//!
//! The method is the linearly implicit pair of orders 2 and 3 of Rosenbrock's kind, L-stable, so that
//! what has settled is taken at its steady value however long a step is. With `W = I − h·d·J`:
//!
//! `W·k₁ = f₀`, `W·(k₂ − k₁) = f(y + h·k₁/2) − k₁`, `y₁ = y + h·k₂`,
//! `W·k₃ = f(y₁) − e·(k₂ − f(y + h·k₁/2)) − 2·(k₁ − f₀)`, error `h/6·(k₁ − 2·k₂ + k₃)`,
//!
//! with `d = 1/(2 + √2)` and `e = 6 + √2`. Source: Shampine and Reichelt, SIAM J. Sci. Comput. 18
//! (1997) (from memory). `J` is taken by differences; that rates depend on time besides is left to the
//! control of the error. Sums that the rates keep, as the ledger's, are kept by the method.

use crate::pieces::{SIZE, Vector};
use crate::state::State;
use nalgebra::SMatrix;
use ode_solvers::System;

/// Steps of an explicit method of six stages that cost as much as one of these.
pub(crate) const COST: u32 = 3;
/// Shortest step, s.
const SHORTEST_S: f64 = 1e-13;

/// How far and how closely it goes on.
pub(crate) struct Way {
    /// Time at the end, s.
    pub until_s: f64,
    /// First step to try, s.
    pub first_s: f64,
    /// Longest step, s.
    pub longest_s: f64,
    /// Relative and absolute tolerance.
    pub within: (f64, f64),
    /// Steps, those that were repeated counted, after which it is given up.
    pub most_steps: u32,
}

/// Why it was given up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Halt {
    /// It took too many steps.
    Steps,
    /// Steps became too small.
    TooSmall,
}

/// How the rates hang on the numbers of the state; on the ledger they do not.
pub(crate) type Slopes = SMatrix<f64, SIZE, NUMBERS>;

const NUMBERS: usize = State::COUNT;

fn rates_at(system: &impl System<f64, Vector>, x: f64, y: &Vector) -> Vector {
    let mut rates = Vector::zeros();
    system.system(x, y, &mut rates);
    rates
}

/// The slopes of the rates, by differences.
pub(crate) fn slopes_at(
    system: &impl System<f64, Vector>,
    x: f64,
    y: &Vector,
    rates: &Vector,
) -> Slopes {
    let mut slopes = Slopes::zeros();
    for i in 0..NUMBERS {
        let mut moved = *y;
        // Towards zero, so that no share is moved beyond a whole.
        moved[i] -= 1e-7 * y[i].signum() * y[i].abs().max(1e-3);
        let there = rates_at(system, x, &moved);
        slopes.set_column(i, &((there - rates) / (moved[i] - y[i])));
    }
    slopes
}

/// Goes on from a place until a time, or until the system says that it is enough. Returns the steps
/// that it took, and why it was given up, if it was.
pub(crate) fn integrate(
    system: &mut impl System<f64, Vector>,
    (mut x, mut y): (f64, Vector),
    way: &Way,
) -> (u32, Result<(), Halt>) {
    let d = 1.0 / (2.0 + f64::sqrt(2.0));
    let e = 6.0 + f64::sqrt(2.0);
    let (mut steps, mut h) = (0, way.first_s);
    let mut f0 = rates_at(&*system, x, &y);
    let mut slopes = slopes_at(&*system, x, &y, &f0);
    while way.until_s - x > SHORTEST_S {
        if steps >= way.most_steps {
            return (steps, Err(Halt::Steps));
        }
        if h <= SHORTEST_S.max(10.0 * f64::EPSILON * x) {
            return (steps, Err(Halt::TooSmall));
        }
        steps += 1;
        let last = x + 1.01 * h >= way.until_s;
        h = if last { way.until_s - x } else { h };
        let w = SMatrix::<f64, NUMBERS, NUMBERS>::identity()
            - slopes.fixed_rows::<NUMBERS>(0) * (h * d);
        let w = w.lu();
        // The ledger follows the state.
        let solved = |right: Vector| {
            let state = w.solve(&right.fixed_rows::<NUMBERS>(0).clone_owned());
            state.map(|state| {
                let mut k = right + slopes * state * (h * d);
                k.fixed_rows_mut::<NUMBERS>(0).copy_from(&state);
                k
            })
        };
        let tried = (|| {
            let k1 = solved(f0)?;
            let f1 = rates_at(&*system, x + 0.5 * h, &(y + k1 * (0.5 * h)));
            let k2 = solved(f1 - k1)? + k1;
            let ahead = y + k2 * h;
            let f2 = rates_at(&*system, x + h, &ahead);
            let k3 = solved(f2 - (k2 - f1) * e - (k1 - f0) * 2.0)?;
            Some((ahead, f2, (k1 - k2 * 2.0 + k3) * (h / 6.0)))
        })();
        let (relative, absolute) = way.within;
        let error: f64 = tried.map_or(f64::NAN, |(ahead, _, off)| {
            let share = |i: usize| off[i] / (absolute + relative * y[i].abs().max(ahead[i].abs()));
            ((0..SIZE).map(|i| share(i) * share(i)).sum::<f64>() / SIZE as f64).sqrt()
        });
        let by: f64 = 0.8 * error.max(1e-12).powf(-1.0 / 3.0);
        match tried {
            Some((ahead, rates, _)) if error <= 1.0 => {
                x = if last { way.until_s } else { x + h };
                (y, f0) = (ahead, rates);
                if system.solout(x, &y, &f0) {
                    return (steps, Ok(()));
                }
                slopes = slopes_at(&*system, x, &y, &f0);
                h = (h * by.min(5.0)).min(way.longest_s);
            }
            _ => h *= if by.is_finite() { by.clamp(0.2, 0.9) } else { 0.2 },
        }
    }
    (steps, Ok(()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `y′ = −λ·(y − φ(t)) + φ′(t)` with `y(0) = φ(0)` is `φ(t)`, however large λ is: Prothero and
    /// Robinson, Math. Comp. 28 (1974). Time is a number of the state, so that the system is closed.
    struct Stiff(f64, f64);

    impl System<f64, Vector> for Stiff {
        fn system(&self, _: f64, y: &Vector, rates: &mut Vector) {
            *rates = Vector::zeros();
            rates[0] = 1.0;
            rates[1] = -self.0 * (y[1] - y[0].sin()) + y[0].cos();
            // The ledger of the others, whose sum stays.
            rates[SIZE - 2] = rates[0] + rates[1];
            rates[SIZE - 1] = -rates[SIZE - 2];
        }

        fn solout(&mut self, _: f64, y: &Vector, _: &Vector) -> bool {
            assert!((y[SIZE - 2] + y[SIZE - 1]).abs() < 1e-12);
            self.1 = y[1];
            false
        }
    }

    #[test]
    fn a_stiff_equation_has_its_solution_in_few_steps() {
        for lambda in [1.0, 1e3, 1e6, 1e9] {
            let way = Way {
                until_s: 10.0,
                first_s: 1e-3,
                longest_s: 1.0,
                within: (1e-4, 1e-6),
                most_steps: 500,
            };
            let mut system = Stiff(lambda, f64::NAN);
            let (steps, ended) = integrate(&mut system, (0.0, Vector::zeros()), &way);
            assert_eq!(ended, Ok(()));
            let off = system.1 - f64::sin(10.0);
            println!("{lambda}: {steps} steps, {off:e} off");
            assert!(off.abs() < 1e-3, "{lambda}: {off}");
        }
    }
}
