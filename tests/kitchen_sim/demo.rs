//! The committed demo is what its generator writes, to the byte.

use crate::support::demo;

#[test]
fn committed_files_are_those_of_the_generator() {
    for (name, content) in demo::files() {
        let committed = std::fs::read_to_string(format!("data-demo/{name}"))
            .unwrap_or_else(|e| panic!("{name}: {e}"));
        assert!(committed == content, "data-demo/{name}: run `cargo run --example make-demo`");
    }
}
