//! What holds the car back at an instant.

/// Stands for no limit where a part has a number for one: more than any current, torque, voltage or
/// temperature of a car, and still a number to reckon with.
pub const NO_LIMIT: f64 = 1e6;

/// The limits a request can meet, each of them a part of the car saying no.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[repr(u8)]
pub enum Limit {
    /// The driven tyres' grip.
    Grip,
    /// The motor's peak torque curve at the voltage it has.
    MotorTorque,
    /// The voltage at a series motor's terminals: it asks for more than the pack has.
    MotorVoltage,
    /// The motor's torque, cut back because its winding is hot.
    MotorHeat,
    /// The controller's motor-side current.
    ControllerMotorCurrent,
    /// The controller's motor-side current, cut back because its heat sink is hot.
    ControllerHeat,
    /// The controller's pack-side current.
    ControllerPackCurrent,
    /// The controller's under- or over-voltage limit.
    ControllerVoltage,
    /// The cells' current limit, continuous or peak.
    CellCurrent,
    /// The cells' current limit, cut back because they are cold or hot.
    CellTemperature,
    /// The weakest cell's voltage limit.
    CellVoltage,
    /// The most power that the pack's resistance lets out.
    PackPower,
    /// The highest speed of the motor or of the gearbox input.
    Rpm,
    /// The torque that the gearbox input may carry.
    GearboxTorque,
    /// The torque that the clutch holds.
    ClutchTorque,
    /// The charge window: an empty pack gives nothing, a full one takes nothing.
    Charge,
}

impl Limit {
    /// How many there are.
    pub const COUNT: usize = 16;

    /// Whether it is one that a box of cells meets by itself.
    pub fn is_of_cells(self) -> bool {
        matches!(
            self,
            Limit::CellCurrent | Limit::CellTemperature | Limit::CellVoltage | Limit::Charge
        )
    }

    /// All of them, in declaration order.
    pub const ALL: [Limit; Self::COUNT] = [
        Limit::Grip,
        Limit::MotorTorque,
        Limit::MotorVoltage,
        Limit::MotorHeat,
        Limit::ControllerMotorCurrent,
        Limit::ControllerHeat,
        Limit::ControllerPackCurrent,
        Limit::ControllerVoltage,
        Limit::CellCurrent,
        Limit::CellTemperature,
        Limit::CellVoltage,
        Limit::PackPower,
        Limit::Rpm,
        Limit::GearboxTorque,
        Limit::ClutchTorque,
        Limit::Charge,
    ];

    /// Whether it comes from a part that is too hot (or, for cells, too cold).
    pub fn is_thermal(self) -> bool {
        matches!(self, Limit::MotorHeat | Limit::ControllerHeat | Limit::CellTemperature)
    }

    /// Whether it says that the pack has given what it has: by its charge, or by a voltage that has
    /// fallen with it.
    pub fn is_an_exhausted_pack(self) -> bool {
        self.is_of_the_pack() && self != Limit::CellTemperature
    }

    /// Whether it comes from the pack, or from a controller that the pack no longer feeds.
    pub fn is_of_the_pack(self) -> bool {
        matches!(
            self,
            Limit::CellVoltage
                | Limit::ControllerVoltage
                | Limit::PackPower
                | Limit::Charge
                | Limit::CellTemperature
        )
    }
}
