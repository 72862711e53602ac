//! Codes.
