//! x
use super::model::*;
use crate::finding::Finding;
pub(super) fn contradictions(_case: &Case) -> Vec<Finding> { Vec::new() }
