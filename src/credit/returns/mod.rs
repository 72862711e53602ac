//! Where each return stands, and what that makes of the figures: as filed, amended, to come.
//!
//! Comes in: a case and its figures. Goes out: how far a return has come, whether it shows what is computed, until when it
//! can be changed, what its changes come to, and what years to come would use.

pub mod amend;
pub mod as_filed;
pub mod death;
pub mod planning;
pub mod season;
pub mod stage;
pub mod unclaimed;
pub mod window;
