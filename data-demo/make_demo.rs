//! Writes the demo's files again: `cargo run --example make-demo [folder]`.
//!
//! The kitchen is invented, its machines drawn from a fixed seed; a test holds the
//! committed files against what this writes.

#[path = "../tests/support/mod.rs"]
mod support;

use std::path::PathBuf;

fn main() -> std::io::Result<()> {
    let folder = std::env::args_os().nth(1).map_or_else(|| PathBuf::from("data-demo"), Into::into);
    for (name, content) in support::demo::files() {
        let path = folder.join(name);
        std::fs::write(&path, content)?;
        println!("{}", path.display());
    }
    Ok(())
}
