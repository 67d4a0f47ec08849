//! One of the invariants of `tests/src/fuzz`, driven by libFuzzer: `cargo xtask fuzz NAME`.
//!
//! Which one, the variable `CASETIGHT_FUZZ` says.
#![cfg_attr(fuzzing, no_main)]

#[cfg(fuzzing)]
mod driven {
    use std::sync::OnceLock;

    use casetight_tests::fuzz::{Invariant, of};

    static INVARIANT: OnceLock<Invariant> = OnceLock::new();

    fn invariant() -> Invariant {
        let name = std::env::var("CASETIGHT_FUZZ").unwrap_or_default();
        of(&name).unwrap_or_else(|| panic!("there is no invariant `{name}`"))
    }

    libfuzzer_sys::fuzz_target!(init: { INVARIANT.get_or_init(invariant); }, |bytes: &[u8]| {
        if let Err(wrong) = INVARIANT.get_or_init(invariant)(bytes) {
            panic!("{wrong}");
        }
    });
}

/// Without the flags of `cargo xtask fuzz` there is nothing that drives it.
#[cfg(not(fuzzing))]
fn main() {
    eprintln!("run it by `cargo xtask fuzz`");
}
