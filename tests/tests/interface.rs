//! The public interface of the library's crates, item by item: an addition, a change or a loss is seen in `docs/api`.
//!
//! The compiler's own description of a crate is read, which only the compiler's makers may ask a released one for; the list is made with
//! the Rust of `rust-version`, and with another, whose description may have another form, it is not looked at.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "test code"
)]

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;

use public_api::Builder;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// Whether the compiler is the one that the lists are made with.
fn is_the_lists_compiler() -> bool {
    let manifest = std::fs::read_to_string(root().join("Cargo.toml")).unwrap();
    let line = manifest
        .lines()
        .find(|line| line.starts_with("rust-version"));
    let wanted = line.and_then(|line| line.split('"').nth(1)).unwrap();
    let version = Command::new("rustc").arg("--version").output().unwrap();
    let version = String::from_utf8_lossy(&version.stdout).into_owned();
    version.starts_with(&format!("rustc {wanted}."))
}

/// The items of a crate, a line each.
fn interface(name: &str) -> String {
    let target = root().join("target/interface");
    let described = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()))
        .args([
            "rustdoc",
            "--quiet",
            "--package",
            name,
            "--all-features",
            "--lib",
        ])
        .arg("--manifest-path")
        .arg(root().join("Cargo.toml"))
        .arg("--target-dir")
        .arg(&target)
        .args(["--", "-Z", "unstable-options", "--output-format", "json"])
        .env("RUSTC_BOOTSTRAP", "1")
        .env_remove("RUSTDOCFLAGS")
        .status()
        .unwrap();
    assert!(described.success(), "{name} could not be described");
    let file = target.join("doc").join(name.replace('-', "_") + ".json");
    let api = Builder::from_rustdoc_json(file)
        .omit_blanket_impls(true)
        .omit_auto_trait_impls(true)
        .omit_auto_derived_impls(true)
        .build()
        .unwrap();
    let mut items = String::new();
    for item in api.items() {
        writeln!(items, "{item}").unwrap();
    }
    items
}

/// Whatever is found can go to another thread, and every error is one that any other can hold.
#[test]
fn results_and_errors_go_anywhere() {
    fn anywhere<T: Send + Sync + 'static>() {}
    fn error<T: std::error::Error + Send + Sync + 'static>() {}
    anywhere::<casetight::readings::Bench>();
    anywhere::<casetight::readings::Readings>();
    anywhere::<casetight::fit::Fit>();
    anywhere::<casetight::limit::Decision>();
    anywhere::<casetight::volume::TestedVolume>();
    anywhere::<casetight_bench::sheet::Sheet>();
    anywhere::<casetight_bench::session::Session>();
    anywhere::<casetight_bench::plan::Plan>();
    anywhere::<casetight_bench::watch::Watch>();
    error::<casetight::Error>();
    error::<casetight_bench::sheet::SheetError>();
    error::<casetight_bench::session::SessionError>();
    error::<casetight_bench::record::TraceError>();
}

#[test]
fn the_public_interface_is_that_of_the_lists() {
    if !is_the_lists_compiler() {
        println!("not looked at: the lists are made with the Rust of `rust-version`");
        return;
    }
    for name in ["casetight", "casetight-bench"] {
        let made = interface(name);
        let path = root().join("docs/api").join(format!("{name}.txt"));
        if std::env::var_os("CASETIGHT_RENEW_SNAPSHOTS").is_some() {
            std::fs::create_dir_all(root().join("docs/api")).unwrap();
            std::fs::write(&path, &made).unwrap();
        }
        let kept = std::fs::read_to_string(&path).unwrap_or_default();
        let (kept, made): (Vec<&str>, Vec<&str>) = (kept.lines().collect(), made.lines().collect());
        let gone = kept
            .iter()
            .filter(|line| !made.contains(line))
            .map(|line| format!("- {line}\n"));
        let new = made
            .iter()
            .filter(|line| !kept.contains(line))
            .map(|line| format!("+ {line}\n"));
        let differs: String = gone.chain(new).collect();
        assert!(
            differs.is_empty(),
            "the interface of {name} is no longer that of docs/api:\n{differs}\
             CASETIGHT_RENEW_SNAPSHOTS=1 cargo test -p casetight-tests --test interface writes it anew"
        );
    }
}
