//! The traction motor: what it can do, what it wastes, how it warms.

mod envelope;
mod losses;
mod nameplate;
mod thermal;

pub use envelope::{Envelope, Shape};
pub use losses::{Coefficients, EfficiencyPoint, LossMap, Losses, MotorLoss, OperatingPoint, fit};
pub use nameplate::{
    LEAST_HEAT_J_PER_KG_K, MOST_HEAT_J_PER_KG_K, Rating, ShortRating, ShortRun, Stand,
    ThermalSheet, USUAL_HEAT_J_PER_KG_K,
};
pub use thermal::Thermal;

use crate::controller::Derating;
use crate::cooling::{Cooling, ThinAir};
use crate::units::K_AT_25_C;

/// Constant of copper in `R(T) = R0·(235 + T)/(235 + T0)`, °C (IEC 60034-1).
pub const COPPER_CONSTANT_C: f64 = 235.0;
/// Temperature at which that line says that copper has no resistance, K.
pub(crate) const NO_RESISTANCE_K: f64 = crate::units::K_AT_0_C - COPPER_CONSTANT_C;

/// Resistance of copper at a temperature over that at another, after IEC 60034-1 (from memory).
#[inline]
pub fn copper_factor(temperature_k: f64, reference_k: f64) -> f64 {
    (temperature_k - NO_RESISTANCE_K) / (reference_k - NO_RESISTANCE_K)
}

/// The kind of machine, as far as it changes what the model does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Kind {
    /// Squirrel-cage induction motor: no iron loss when it is not excited.
    Induction {
        /// Magnetising current, A.
        magnetising_a: f64,
    },
    /// Permanent-magnet synchronous motor: its iron is always magnetised.
    PermanentMagnet,
    /// Series-wound direct-current motor: torque grows with the square of the current until the
    /// iron saturates; it makes no regen.
    SeriesDc {
        /// Current at which the field is half way from square to straight growth, A.
        saturation_a: f64,
        /// Voltage drop of the brushes, V.
        brush_v: f64,
    },
}

impl Kind {
    /// Magnetising current of the whole field, A; 0 where there is none.
    ///
    /// A number for every kind keeps what other kinds have in its place out of the arithmetic: read
    /// as a float it may be denormal, which costs a hundred times as much.
    #[inline]
    fn magnetising_a(&self) -> f64 {
        if let Kind::Induction { magnetising_a } = *self { magnetising_a } else { 0.0 }
    }

    /// Voltage that brushes take, V; 0 where there are none.
    #[inline]
    fn brush_v(&self) -> f64 {
        if let Kind::SeriesDc { brush_v, .. } = *self { brush_v } else { 0.0 }
    }
}

/// The electrical machine in a motor: its torque and the current that it takes for it.
#[derive(Debug, Clone, PartialEq)]
pub struct Machine {
    /// What kind it is.
    pub kind: Kind,
    /// Peak torque against speed and voltage.
    pub envelope: Envelope,
    /// Motor current per torque below base speed, A/(N·m) (series-wound: at `peak_current_a`).
    pub current_a_per_nm: f64,
    /// Motor current at peak torque, A.
    pub peak_current_a: f64,
}

/// A motor.
#[derive(Debug, Clone, PartialEq)]
pub struct Motor {
    /// Its machine.
    pub machine: Machine,
    /// Peak regen torque over peak motoring torque.
    pub regen_share: f64,
    /// Losses.
    pub losses: Losses,
    /// Winding temperature at which the losses were stated, K.
    pub loss_reference_k: f64,
    /// Heat.
    pub thermal: Thermal,
    /// Cutting back of torque with winding temperature.
    pub derating: Derating,
    /// Moment of inertia of the rotor, kg·m².
    pub rotor_inertia_kg_m2: f64,
    /// Highest speed, rad/s.
    pub max_radps: f64,
}

/// The motor's field.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Field {
    /// How far it is weakened, `w`: the torque per ampere falls by this factor.
    pub weakening: f64,
    /// What is left of it, `1/w`.
    pub left: f64,
}

impl Field {
    /// Not weakened.
    pub const WHOLE: Field = Field { weakening: 1.0, left: 1.0 };

    /// The field at a voltage: `w = max(1, V_f/V)` with `V_f` of [`Machine::full_field_v`].
    #[inline]
    pub fn at(volts: f64, full_v: f64) -> Self {
        if volts >= full_v {
            return Self::WHOLE;
        }
        let volts = volts.max(1e-3);
        Self { weakening: full_v / volts, left: volts * (1.0 / full_v) }
    }
}

impl Machine {
    /// Voltage from which the field is whole at a shaft speed, V: `V_f = V_ref·ω/ω_base`, so that
    /// base speed moves with the voltage (0 for a series-wound motor, whose field follows the
    /// current).
    #[inline]
    pub fn full_field_v(&self, radps: f64) -> f64 {
        match self.kind {
            Kind::SeriesDc { .. } => 0.0,
            _ => radps * self.envelope.reference_v / self.envelope.base_radps,
        }
    }

    /// The field at a shaft speed and a voltage.
    pub fn field(&self, radps: f64, volts: f64) -> Field {
        Field::at(volts, self.full_field_v(radps))
    }

    /// Motor current for a torque, A.
    ///
    /// Induction and permanent-magnet: `I = √(I_m² + (T·w/k_T)²)` with `w` the field weakening,
    /// which lowers the magnetising current `I_m` as well.
    /// Series-wound: `T = c·I²/(1 + I/I_s)` solved for `I`.
    /// Source: machine theory at constant flux (common practice, no source).
    #[inline]
    pub fn current_a(&self, torque_nm: f64, field: Field) -> f64 {
        if let Kind::SeriesDc { saturation_a, .. } = self.kind {
            return self.series_current_a(torque_nm, saturation_a);
        }
        let torque_a = torque_nm * self.current_a_per_nm * field.weakening;
        let magnetising_a = self.kind.magnetising_a();
        if magnetising_a > 0.0 {
            let field_a = magnetising_a * field.left;
            (field_a * field_a + torque_a * torque_a).sqrt()
        } else {
            torque_a.abs()
        }
    }

    /// The largest current at which the machine gives no more than a torque at any speed, A: the least
    /// that the torque takes in any field.
    ///
    /// `I² = (I_m/w)² + (T·k·w)²` is least at `w = √(I_m/(T·k))`, where the field may be weakened so
    /// far (`w ≥ 1`), and `√(2·I_m·T·k)` there. A series motor takes the same in every field.
    pub fn current_for_at_most_a(&self, torque_nm: f64) -> f64 {
        let torque_a = torque_nm * self.current_a_per_nm;
        let weakening = (self.kind.magnetising_a() / torque_a).sqrt().max(1.0);
        self.current_a(torque_nm, Field { weakening, left: 1.0 / weakening })
    }

    /// Current of a series motor for a shaft torque, A: `T = c'·I²/(1 + I/I_sat)` solved for `I`.
    ///
    /// A call, so that machines of other kinds do not pay for its divisions.
    #[inline(never)]
    fn series_current_a(&self, torque_nm: f64, saturation_a: f64) -> f64 {
        let c = (1.0 + self.peak_current_a / saturation_a)
            / (self.current_a_per_nm * self.peak_current_a);
        let b = torque_nm.abs() / saturation_a;
        (b + (b * b + 4.0 * c * torque_nm.abs()).sqrt()) / (2.0 * c)
    }

    /// What the machine does at a shaft torque, a speed and a field. The flux in the iron of an
    /// induction motor falls as its field is weakened, `φ = V/V_f`; magnets keep theirs, and that of
    /// a series motor goes with the current, which the coefficients know nothing of.
    #[inline]
    pub fn operating_point(&self, torque_nm: f64, radps: f64, field: Field) -> OperatingPoint {
        let flux = match self.kind {
            Kind::Induction { .. } => field.left,
            Kind::PermanentMagnet | Kind::SeriesDc { .. } => 1.0,
        };
        OperatingPoint { torque_nm, radps, current_a: self.current_a(torque_nm, field), flux }
    }

    /// Losses of the powered machine by what it does and a growth of copper loss; brushes add
    /// theirs to the copper.
    #[inline]
    pub fn loss(&self, losses: &Losses, point: &OperatingPoint, copper_factor: f64) -> MotorLoss {
        let mut loss = losses.at(point, copper_factor);
        loss.copper_w += self.kind.brush_v() * point.current_a;
        loss
    }

    /// Voltage at the terminals of a series motor, V: back-EMF and what resistance and brushes drop,
    /// `U = (T·ω + P_copper)/I`, of which a chopper gives no more than the pack has. Alternating-
    /// current machines weaken their field instead.
    ///
    /// Source: `E·I = T·ω` of a direct-current machine (any textbook of electrical machines).
    #[inline]
    pub fn terminal_v(&self, point: &OperatingPoint, loss: &MotorLoss) -> Option<f64> {
        let Kind::SeriesDc { .. } = self.kind else {
            return None;
        };
        let power_w = point.torque_nm * point.radps + loss.copper_w;
        Some(if point.current_a > 0.0 { power_w / point.current_a } else { 0.0 })
    }
}

impl Motor {
    /// A motor that gives its peak torque at a current, up to a highest speed, without losses,
    /// inertia or limits of heat; set the fields as known.
    pub fn ideal(envelope: Envelope, peak_current_a: f64, max_radps: f64) -> Self {
        Self {
            machine: Machine {
                kind: Kind::PermanentMagnet,
                current_a_per_nm: peak_current_a / envelope.largest_nm(),
                envelope,
                peak_current_a,
            },
            regen_share: 1.0,
            losses: Losses::from(Coefficients::default()),
            loss_reference_k: K_AT_25_C,
            thermal: Thermal {
                winding_j_per_k: 3500.0,
                housing_j_per_k: 16_000.0,
                winding_to_housing_w_per_k: 15.0,
                cooling: Cooling::Air { still_w_per_k: 3.0, fan_w_per_k: 0.07, road_w_per_k: 0.3 },
                thin_air: ThinAir::ByDensity,
            },
            derating: Derating::NEVER,
            rotor_inertia_kg_m2: 0.0,
            max_radps,
        }
    }

    /// Whether it can brake electrically.
    pub fn makes_regen(&self) -> bool {
        !matches!(self.machine.kind, Kind::SeriesDc { .. }) && self.regen_share > 0.0
    }

    /// What the motor does at a shaft torque, a speed and a voltage.
    pub fn operating_point(&self, torque_nm: f64, radps: f64, volts: f64) -> OperatingPoint {
        self.machine.operating_point(torque_nm, radps, self.machine.field(radps, volts))
    }

    /// Losses of the powered motor by what it does and a growth of copper loss.
    #[inline]
    pub fn loss(&self, point: &OperatingPoint, copper_factor: f64) -> MotorLoss {
        self.machine.loss(&self.losses, point, copper_factor)
    }

    /// Drag power of the unpowered motor: windage and friction, and iron loss where magnets keep
    /// the iron magnetised. `(iron_w, windage_w)`.
    #[inline]
    pub fn unpowered_drag_w(&self, radps: f64) -> (f64, f64) {
        let c = self.losses.coefficients();
        let iron_w = match self.machine.kind {
            Kind::PermanentMagnet => c.iron_w(radps, 1.0),
            _ => 0.0,
        };
        (iron_w, c.windage_w(radps))
    }
}
