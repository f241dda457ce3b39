//! The floors of the core: a module uses lower floors only, never its own and never a
//! higher one; and what must not be found in a source at all.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// The floors of `crates/kneadfit/src`, lowest first. DEVELOPERS.md shows the same table.
const FLOORS: [&[&str]; 10] = [
    &["units", "numeric"],
    &["charge", "trade_rule"],
    &["batch"],
    &["domain", "thermal"],
    &["development", "prior"],
    &["fit"],
    &["inference"],
    &["diagnostics", "profile"],
    &["calibration", "forecast"],
    &["machine_factor", "planning", "publish"],
];

/// What the core must not know: files, streams, terminals, the machine it runs on, plots,
/// formats of logs.
const NOT_IN_THE_CORE: [&str; 14] = [
    "std::fs",
    "std::io",
    "std::env",
    "std::process",
    "std::net",
    "println!",
    "print!(",
    "dbg!(",
    "plotters",
    "clap",
    "anyhow",
    "csv::",
    "csv_core",
    "kneadfit_log",
];

/// What the log reader must not know: it is given a stream and gives back what was read.
const NOT_IN_THE_READER: [&str; 9] = [
    "std::fs",
    "std::env",
    "std::process",
    "std::net",
    "println!",
    "print!(",
    "dbg!(",
    "plotters",
    "clap",
];

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn floor_of(module: &str) -> Option<usize> {
    FLOORS.iter().position(|floor| floor.contains(&module))
}

/// A source file by its path below `src`, comments taken out.
struct Source {
    path: String,
    code: String,
}

fn sources(folder: &str) -> Vec<Source> {
    let folder = root().join(folder);
    let mut paths = Vec::new();
    walk(&folder, &mut paths);
    paths.sort();
    paths
        .iter()
        .filter(|path| path.extension().is_some_and(|e| e == "rs"))
        .map(|path| Source {
            path: path.strip_prefix(&folder).unwrap().to_str().unwrap().replace('\\', "/"),
            code: without_comments(&fs::read_to_string(path).unwrap()),
        })
        .collect()
}

fn walk(folder: &Path, paths: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() { walk(&path, paths) } else { paths.push(path) }
    }
}

/// Lines without what follows `//`; a `//` within a string only ever cuts text away.
fn without_comments(text: &str) -> String {
    text.lines().map(|line| line.split("//").next().unwrap_or("")).collect::<Vec<_>>().join("\n")
}

/// The identifier that a text starts with; empty: none.
fn identifier(text: &str) -> &str {
    let end = text.find(|c: char| !c.is_alphanumeric() && c != '_').unwrap_or(text.len());
    &text[..end]
}

/// The identifiers at the head of each path in `{a, b::c, d::{e, f}}`, or the only one.
fn heads(text: &str) -> Vec<&str> {
    let text = text.trim_start();
    let Some(list) = text.strip_prefix('{') else { return vec![identifier(text)] };
    let (mut depth, mut at_head, mut found) = (1, true, Vec::new());
    for (at, c) in list.char_indices() {
        match c {
            '{' => depth += 1,
            '}' => depth -= 1,
            ',' => at_head |= depth == 1,
            c if c.is_whitespace() => {}
            _ => {
                if at_head && depth == 1 {
                    found.push(identifier(&list[at..]));
                }
                at_head = false;
            }
        }
        if depth == 0 {
            break;
        }
    }
    found
}

/// The modules of the core that a file names.
fn modules_named(source: &Source) -> Vec<String> {
    let mut named = Vec::new();
    let start_of_word =
        |at: usize| !source.code[..at].ends_with(|c: char| c.is_alphanumeric() || c == '_');
    for (at, found) in source.code.match_indices("crate::") {
        if start_of_word(at) {
            named.extend(heads(&source.code[at + found.len()..]).into_iter().map(String::from));
        }
    }
    // Enough `super::` in a row lead up to the crate's root, too.
    let depth = source.path.trim_end_matches("/mod.rs").matches('/').count() + 1;
    let mut code = source.code.as_str();
    while let Some(at) = code.find("super::") {
        code = &code[at..];
        let mut ups = 0;
        while let Some(rest) = code.strip_prefix("super::") {
            ups += 1;
            code = rest;
        }
        if ups >= depth {
            let known = heads(code).into_iter().filter(|name| floor_of(name).is_some());
            named.extend(known.map(String::from));
        }
    }
    named
}

/// The top-level module that a file belongs to.
fn module_of(source: &Source) -> &str {
    identifier(&source.path)
}

/// What is wrong with the arrows that leave a file.
fn faults(source: &Source) -> Vec<String> {
    let from = module_of(source);
    let Some(floor) = floor_of(from) else {
        return vec![format!("{}: {from} has no floor in the table", source.path)];
    };
    modules_named(source)
        .into_iter()
        .filter(|to| to != from)
        .filter_map(|to| match floor_of(&to) {
            None => Some(format!("{}: crate::{to} has no floor in the table", source.path)),
            Some(other) if other > floor => Some(format!(
                "{}: {from} (floor {floor}) uses {to} (floor {other}): up",
                source.path
            )),
            Some(other) if other == floor => Some(format!(
                "{}: {from} uses {to} of its own floor ({floor}): sideways",
                source.path
            )),
            Some(_) => None,
        })
        .collect()
}

#[test]
fn arrows_in_the_core_go_down() {
    let sources: Vec<Source> =
        sources("crates/kneadfit/src").into_iter().filter(|s| s.path != "lib.rs").collect();
    let faults: Vec<String> = sources.iter().flat_map(faults).collect();
    assert!(faults.is_empty(), "\n{}", faults.join("\n"));
    let arrows = sources
        .iter()
        .flat_map(|s| modules_named(s).into_iter().filter(|to| to != module_of(s)))
        .count();
    assert!(arrows > 60, "only {arrows} arrows were found: is the walk broken?");
}

#[test]
fn the_table_holds_every_module_once() {
    let lib = fs::read_to_string(root().join("crates/kneadfit/src/lib.rs")).unwrap();
    let mut modules: Vec<&str> = lib
        .lines()
        .filter(|line| line.ends_with(';'))
        .filter_map(|line| line.trim_start_matches("pub ").strip_prefix("mod "))
        .map(identifier)
        .collect();
    let mut table: Vec<&str> = FLOORS.concat();
    modules.sort_unstable();
    table.sort_unstable();
    assert_eq!(modules, table);
}

#[test]
fn developers_are_shown_the_same_table() {
    let guide = fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    for (floor, modules) in FLOORS.iter().enumerate() {
        let cells: Vec<String> = modules.iter().map(|m| format!("`{m}`")).collect();
        let row = format!("| {floor} | {} |", cells.join(", "));
        assert!(guide.contains(&row), "DEVELOPERS.md does not have the row {row}");
    }
}

/// A walk that found nothing would prove nothing.
#[test]
fn arrows_that_go_up_or_sideways_are_seen() {
    let told = |path: &str, code: &str| {
        faults(&Source { path: path.into(), code: without_comments(code) }).join("; ")
    };
    assert!(told("thermal/walk.rs", "use crate::fit::FitError;").contains("up"));
    assert!(told("thermal/walk.rs", "let x = crate::domain::Domain::of();").contains("sideways"));
    assert!(
        told("fit/mode.rs", "use crate::{\n numeric::{sum, rank},\n inference};").contains("up")
    );
    assert!(told("domain.rs", "use super::forecast::Forecast;").contains("up"));
    assert!(told("fit/solver/state.rs", "use super::super::super::profile::X;").contains("up"));
    assert!(told("fit/mode.rs", "use crate::plots::X;").contains("no floor"));
    assert!(told("kitchen.rs", "").contains("no floor"));
    assert_eq!(told("forecast/machine.rs", "use super::development::X; // crate::publish"), "");
    assert_eq!(told("fit/mod.rs", "pub(crate) use heat::X; use crate::numeric::Factor;"), "");
}

#[test]
fn core_and_reader_know_no_file_terminal_or_plot() {
    for (folder, forbidden) in [
        ("crates/kneadfit/src", &NOT_IN_THE_CORE[..]),
        ("crates/kneadfit-log/src", &NOT_IN_THE_READER),
    ] {
        for source in sources(folder) {
            for word in forbidden {
                assert!(!source.code.contains(word), "{folder}/{}: {word}", source.path);
            }
        }
    }
}

#[test]
fn only_the_solver_names_argmin() {
    let mut named = 0;
    for source in sources("crates/kneadfit/src") {
        if source.code.contains("argmin") {
            named += 1;
            assert!(source.path.starts_with("fit/solver/"), "{} names argmin", source.path);
        }
    }
    assert!(named > 0, "argmin is named nowhere");
}

/// What shares work out among threads: the passes over a great many batches, nothing else.
const ON_THREADS: [&str; 8] = [
    "calibration/look.rs",
    "calibration/part.rs",
    "diagnostics/batches.rs",
    "diagnostics/survey.rs",
    "fit/heat.rs",
    "fit/logged.rs",
    "inference/conditional.rs",
    "inference/score.rs",
];

/// The one place of the reader that does: the pieces of a long text. Its tests ask for more
/// threads or fewer.
const READERS_ON_THREADS: [&str; 2] = ["pieces/mod.rs", "pieces/tests.rs"];

fn on_threads(folder: &str) -> Vec<String> {
    let threads = ["rayon", "std::thread", "Mutex", "Atomic"];
    let named = |source: &Source| threads.iter().any(|word| source.code.contains(word));
    sources(folder).into_iter().filter(named).map(|source| source.path).collect()
}

#[test]
fn only_passes_over_batches_and_pieces_of_logs_use_threads() {
    assert_eq!(on_threads("crates/kneadfit/src"), ON_THREADS);
    assert_eq!(on_threads("crates/kneadfit-log/src"), READERS_ON_THREADS);
}

#[test]
fn one_place_of_the_tool_writes_files() {
    for source in sources("crates/kneadfit-cli/src") {
        if source.path == "files.rs" {
            continue;
        }
        let tests = source.code.find("#[cfg(test)]").unwrap_or(source.code.len());
        for word in ["fs::write", "File::create", "fs::rename", "create_dir", "NamedTempFile"] {
            assert!(!source.code[..tests].contains(word), "{}: {word}", source.path);
        }
    }
}

/// Text files of the repository: those that git tracks, or, without git, those that lie here.
fn text_files() -> Vec<(PathBuf, String)> {
    let listed = Command::new("git").args(["ls-files", "-z"]).current_dir(root()).output();
    let paths: Vec<PathBuf> = match listed {
        Ok(listed) if listed.status.success() && !listed.stdout.is_empty() => {
            let names = String::from_utf8(listed.stdout).unwrap();
            names.split_terminator('\0').map(|name| root().join(name)).collect()
        }
        _ => {
            let mut paths = Vec::new();
            for entry in fs::read_dir(root()).unwrap() {
                let path = entry.unwrap().path();
                let name = path.file_name().unwrap().to_string_lossy().into_owned();
                match path.is_dir() {
                    true if !["target", "out", ".git"].contains(&&*name) => {
                        walk(&path, &mut paths);
                    }
                    true => {}
                    false => paths.push(path),
                }
            }
            paths
        }
    };
    // A file that is deleted but not yet committed is listed, too.
    paths.into_iter().filter_map(|p| fs::read_to_string(&p).ok().map(|text| (p, text))).collect()
}

#[test]
fn no_file_names_a_path_of_somebodys_machine() {
    // Put together here, so that this file does not name them itself.
    let folders = ["work", "tmp", "home", "root", "Users"].map(|name| format!("/{name}/"));
    let files = text_files();
    assert!(files.len() > 100, "only {} text files", files.len());
    for (path, text) in files {
        for (number, line) in text.lines().enumerate() {
            for folder in &folders {
                let found = line.match_indices(folder.as_str()).any(|(at, _)| {
                    // Part of a longer path or address is something else.
                    !line[..at].ends_with(|c: char| c.is_alphanumeric() || ".-_~".contains(c))
                });
                assert!(!found, "{}:{}: {folder}", path.display(), number + 1);
            }
        }
    }
}
