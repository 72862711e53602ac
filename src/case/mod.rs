//! The household's facts.
//!
//! Comes in: the text of one case file. Goes out: [`Case`], every value with the place it was written, and
//! all that is wrong with it. Knows what the contract of the case file allows (format 1); knows nothing of
//! rates, caps or years of law.

pub mod kinds;
pub mod model;

pub use kinds::*;
pub use model::*;
