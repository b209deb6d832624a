//! Questions over many cars: every combination, the best value, builds side by side, and
//! cars drawn from what is uncertain.

pub mod bands;
pub mod best;
pub mod candidates;
pub mod choose;
pub mod compare;
pub mod front;
pub mod goal;
pub mod home_test;
pub mod hypercube;
pub mod likely;
pub mod own_road;
pub mod ranks;
pub mod reading_bands;
pub mod season_bands;
pub mod shard;
pub mod size;
pub mod spread;
pub mod stream;
pub mod sweep;
pub mod typical_spreads;
pub mod uncertain;

pub use goal::Goal;
pub use spread::Spread;
