//! Reads the law's files.

use super::Law;
use std::sync::OnceLock;

/// Returns the law built into the program, read once.
pub(super) fn built_in() -> &'static Law {
    static LAW: OnceLock<Law> = OnceLock::new();
    LAW.get_or_init(Law::default)
}
