//! why
