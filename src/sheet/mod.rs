//! The worksheet.
//!
//! Comes in: figures, and the layouts that say which lines stand where. Goes out: a document. Knows neither
//! points nor how a figure is computed.

pub mod official;
