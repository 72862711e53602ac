//! The fuzzer's way into the targets. `GABLEWORK_FUZZ` names the target; `run` sets it.

#![no_main]

mod targets;

use std::sync::OnceLock;

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    static TARGET: OnceLock<fn(&[u8])> = OnceLock::new();
    let target = TARGET.get_or_init(|| {
        let name = std::env::var("GABLEWORK_FUZZ").unwrap_or_default();
        targets::named(&name).unwrap_or_else(|| panic!("`{name}` is none of {:?}", targets::names()))
    });
    target(data);
});
