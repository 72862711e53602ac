//! The `gablework` command.

fn main() {}
