//! How the motor warms: winding and housing.

use crate::cooling::{Cooling, ThinAir};

/// Two nodes: the winding (with the rotor's conductors) and the housing (with the iron).
///
/// `C_w·dT_w/dt = P_copper − G_wh·(T_w − T_h)`
/// `C_h·dT_h/dt = P_iron + P_windage + G_wh·(T_w − T_h) − G·(T_h − T_out)`
///
/// Source: two-body network of IEC 60034-1's thermal equilibrium (common practice, no source).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Thermal {
    /// Heat capacity of the winding, J/K.
    pub winding_j_per_k: f64,
    /// Heat capacity of iron and housing, J/K.
    pub housing_j_per_k: f64,
    /// Conductance from winding to housing, W/K.
    pub winding_to_housing_w_per_k: f64,
    /// From the housing on.
    pub cooling: Cooling,
    /// What thinner air takes from it.
    pub thin_air: ThinAir,
}
