//! Figures for people: walked back to what they rest on, and named as facts and amounts.

pub mod facts;
pub mod why;
