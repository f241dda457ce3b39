//! The README is run: every command in it, in its order, in a folder that holds what a
//! fresh clone holds of the demo. A command that fails, or that this test does not know,
//! fails the test.

use std::collections::HashSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::atomic::{AtomicU32, Ordering};

/// Languages of blocks that hold no commands. Blocks of Rust are compiled as doctests of
/// the core.
const NO_COMMANDS: [&str; 5] = ["rust", "csv", "json", "toml", "text"];

/// Commands that end with an exit code of their own, because that is what they show.
const ENDS_WITH: [(&str, i32); 2] = [
    ("kneadfit check data-demo/kitchen-log-bad-rows.csv", 2),
    ("kneadfit tidy data-demo/kitchen-log-bad-rows.csv --out clean.csv", 2),
];

/// The commands of the tool: each is shown.
const COMMANDS: [&str; 12] = [
    "new-log",
    "columns",
    "check",
    "tidy",
    "fit",
    "forecast",
    "plan",
    "compare",
    "friction-factor",
    "schema",
    "completions",
    "man",
];

fn readme() -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md");
    fs::read_to_string(path).unwrap()
}

/// A fenced block: its language, its first line in the file, its lines.
struct Block<'a> {
    language: &'a str,
    line: usize,
    lines: Vec<&'a str>,
}

/// The fenced blocks of a text, and the lines outside of them.
fn blocks(text: &str) -> (Vec<Block<'_>>, Vec<&str>) {
    let (mut blocks, mut prose): (Vec<Block<'_>>, Vec<&str>) = (Vec::new(), Vec::new());
    let mut open = false;
    for (number, line) in text.lines().enumerate() {
        if let Some(language) = line.trim_start().strip_prefix("```") {
            if !open {
                blocks.push(Block { language: language.trim(), line: number + 2, lines: vec![] });
            }
            open = !open;
        } else if open {
            blocks.last_mut().unwrap().lines.push(line);
        } else {
            prose.push(line);
        }
    }
    assert!(!open, "the last block is not closed");
    (blocks, prose)
}

/// A command that a block shows.
struct Shown<'a> {
    /// Its line in the file.
    line: usize,
    command: &'a str,
    /// Lines of its output, not necessarily all.
    output: Vec<&'a str>,
}

/// The commands of a text's blocks: in `console` those after `$ `, followed by lines of
/// their output; in `sh` every line.
fn commands(text: &str) -> Result<Vec<Shown<'_>>, String> {
    let mut commands: Vec<Shown<'_>> = Vec::new();
    for block in blocks(text).0 {
        let console = block.language == "console";
        if !console && block.language != "sh" {
            let language = block.language.split(',').next().unwrap_or_default();
            if NO_COMMANDS.contains(&language) {
                continue;
            }
            return Err(format!("line {}: a block of {:?}", block.line - 1, block.language));
        }
        for (number, text) in block.lines.iter().enumerate() {
            let line = block.line + number;
            let command = if console { text.strip_prefix("$ ") } else { Some(*text) };
            match (command.map(str::trim), commands.last_mut()) {
                (Some(""), _) => {}
                (Some(command), _) => commands.push(Shown { line, command, output: vec![] }),
                (None, Some(last)) if number > 0 => last.output.push(text.trim()),
                (None, _) => return Err(format!("line {line}: output of no command")),
            }
        }
    }
    Ok(commands)
}

/// What is done for a command.
#[derive(Debug, PartialEq)]
enum Step {
    /// The tool with arguments, its output to a file where one is named.
    Tool(Vec<String>, Option<String>),
    /// The command by which this test itself is run.
    Tests,
}

fn step(command: &str) -> Result<Step, String> {
    let unknown = || format!("{command:?} is not a command that this test knows how to run");
    if command.contains(['|', '&', ';', '<', '$', '`', '"', '\'', '*', '(', '#']) {
        return Err(unknown());
    }
    let (command, file) = match command.split_once(" > ") {
        Some((command, file)) => (command, Some(file.trim().to_owned())),
        None => (command, None),
    };
    let words: Vec<&str> = command.split_whitespace().collect();
    let arguments = match words[..] {
        ["cargo", "test", "--workspace"] if file.is_none() => return Ok(Step::Tests),
        ["cargo", "run", "--release", "--", ref arguments @ ..] => arguments,
        ["kneadfit", ref arguments @ ..] => arguments,
        _ => return Err(unknown()),
    };
    if arguments.is_empty() || command.contains('>') {
        return Err(unknown());
    }
    Ok(Step::Tool(arguments.iter().map(|a| (*a).to_owned()).collect(), file))
}

/// A folder with the demo, removed with it.
struct FreshClone(PathBuf);

impl FreshClone {
    fn of_the_demo() -> Self {
        static MADE: AtomicU32 = AtomicU32::new(0);
        let number = MADE.fetch_add(1, Ordering::Relaxed);
        let name = format!("readme-{}-{number}", std::process::id());
        let folder = Self(Path::new(env!("CARGO_TARGET_TMPDIR")).join(name));
        let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("data-demo");
        fs::create_dir_all(folder.path().join("data-demo")).unwrap();
        for entry in fs::read_dir(demo).unwrap() {
            let path = entry.unwrap().path();
            let to = folder.path().join("data-demo").join(path.file_name().unwrap());
            fs::copy(&path, to).unwrap();
        }
        folder
    }

    fn path(&self) -> &Path {
        &self.0
    }
}

impl Drop for FreshClone {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

/// Runs the tool and returns standard output and error; `Err` says how it ended instead.
fn run(folder: &Path, arguments: &[String], expected: i32) -> Result<[String; 2], String> {
    let ran = Command::new(env!("CARGO_BIN_EXE_kneadfit"))
        .args(arguments)
        .current_dir(folder)
        .env("NO_COLOR", "1")
        .output()
        .unwrap();
    let [out, err] = [ran.stdout, ran.stderr].map(|b| String::from_utf8_lossy(&b).into_owned());
    if ran.status.code() == Some(expected) {
        return Ok([out, err]);
    }
    Err(format!("{arguments:?} ended with {}, expected {expected}\n{out}\n{err}", ran.status))
}

/// Runs all commands of a text in their order in one folder. `Err` names the first that
/// does not do what it should.
fn follow(text: &str) -> Result<Vec<Step>, String> {
    let folder = FreshClone::of_the_demo();
    let mut steps = Vec::new();
    for Shown { line, command, output } in commands(text)? {
        let at = |why: String| format!("line {line}: {why}");
        let step = step(command).map_err(at)?;
        if let Step::Tool(arguments, file) = &step {
            let shown = command.replacen("cargo run --release -- ", "kneadfit ", 1);
            let code = ENDS_WITH.iter().find(|(c, _)| *c == shown).map_or(0, |(_, code)| *code);
            let [out, err] = run(folder.path(), arguments, code).map_err(at)?;
            if out.trim().is_empty() && err.trim().is_empty() {
                return Err(at(format!("{command} says nothing")));
            }
            // Where an example leaves lines away, it says so with an ellipsis.
            for wanted in output.into_iter().filter(|line| *line != "…") {
                if !out.lines().chain(err.lines()).any(|said| said.trim() == wanted) {
                    return Err(at(format!("{command} does not say {wanted:?}\n{out}\n{err}")));
                }
            }
            if let Some(file) = file {
                let path: PathBuf = folder.path().join(file);
                fs::write(&path, out).map_err(|e| at(e.to_string()))?;
            }
        }
        steps.push(step);
    }
    Ok(steps)
}

#[test]
fn every_command_of_the_readme_runs() {
    let steps = follow(&readme()).unwrap_or_else(|why| panic!("README.md, {why}"));
    // Each command of the tool is shown.
    let shown: HashSet<&str> = steps
        .iter()
        .filter_map(|step| match step {
            Step::Tool(arguments, _) => Some(arguments[0].as_str()),
            Step::Tests => None,
        })
        .collect();
    for command in COMMANDS {
        assert!(shown.contains(command), "README.md does not show {command}");
    }
    assert!(steps.contains(&Step::Tests));
}

/// A log that the README shows is one that can be used, every row of it.
#[test]
fn logs_in_the_readme_are_usable() {
    let text = readme();
    let folder = FreshClone::of_the_demo();
    let mut logs = 0;
    for block in blocks(&text).0.iter().filter(|block| block.language == "csv") {
        fs::write(folder.path().join("log.csv"), block.lines.join("\n")).unwrap();
        let [said, _] = run(folder.path(), &["check".into(), "log.csv".into()], 0)
            .unwrap_or_else(|why| panic!("README.md, line {}: {why}", block.line));
        assert!(said.contains("0 errors, 0 doubts"), "{said}");
        logs += 1;
    }
    assert!(logs > 0, "README.md shows no log");
}

#[test]
fn the_readme_begins_with_the_two_commands() {
    let text = readme();
    let commands: Vec<&str> = commands(&text).unwrap().iter().map(|c| c.command).collect();
    assert_eq!(
        commands[..2],
        [
            "cargo run --release -- fit data-demo/kitchen-log.csv --out out",
            "cargo test --workspace"
        ]
    );
}

/// A command within a sentence is one that a block shows, or no more than its name.
#[test]
fn commands_in_sentences_are_known() {
    let text = readme();
    let shown: HashSet<&str> = commands(&text).unwrap().iter().map(|c| c.command).collect();
    let folder = FreshClone::of_the_demo();
    let prose = blocks(&text).1.join("\n");
    for span in prose.split('`').skip(1).step_by(2) {
        let words: Vec<&str> = span.split_whitespace().collect();
        match words[..] {
            ["kneadfit", command] => {
                let help = [command.to_owned(), "--help".to_owned()];
                run(folder.path(), &help, 0).unwrap_or_else(|why| panic!("`{span}`: {why}"));
            }
            ["kneadfit" | "cargo", _, ..] => {
                let span = words.join(" ");
                assert!(shown.contains(&*span), "`{span}` is not run by this test");
            }
            _ => {}
        }
    }
}

/// An option within a sentence is one that a command's help knows.
#[test]
fn options_in_sentences_are_known() {
    let folder = FreshClone::of_the_demo();
    let help: String = COMMANDS
        .map(|command| run(folder.path(), &[command.into(), "--help".into()], 0).unwrap().concat())
        .concat();
    let text = readme();
    let prose = blocks(&text).1.join("\n");
    for span in prose.split('`').skip(1).step_by(2).filter(|span| span.starts_with("--")) {
        let option = span.split([' ', '=']).next().unwrap();
        let known = help.split(|c: char| !(c.is_alphanumeric() || c == '-')).any(|w| w == option);
        assert!(known, "`{span}` is no option");
    }
}

#[test]
fn files_that_the_readme_links_to_are_there() {
    let text = readme();
    for link in text.split("](").skip(1).filter_map(|rest| rest.split(')').next()) {
        if link.starts_with("http") {
            continue;
        }
        let (file, part) = link.split_once('#').unwrap_or((link, ""));
        if !file.is_empty() {
            let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(file);
            assert!(path.exists(), "README.md links to {link}");
        } else {
            let anchor = |title: &str| {
                title
                    .to_lowercase()
                    .chars()
                    .filter(|c| c.is_alphanumeric() || " -_".contains(*c))
                    .collect::<String>()
                    .replace(' ', "-")
            };
            let there = text
                .lines()
                .filter(|line| line.starts_with('#'))
                .any(|line| anchor(line.trim_start_matches('#').trim()) == part);
            assert!(there, "README.md has no part #{part}");
        }
    }
}

/// A README that could not fail would prove nothing.
#[test]
fn a_readme_with_a_wrong_command_fails() {
    let of = |command: &str| follow(&format!("```console\n$ {command}\n```\n"));
    of("kneadfit check data-demo/kitchen-log.csv").unwrap();
    assert!(of("kneadfit check data-demo/missing.csv").unwrap_err().contains("line 2"));
    assert!(of("kneadfit bake").is_err());
    assert!(of("kneadfit fit data-demo/kitchen-log.csv --outt out").is_err());
    let answer =
        "kneadfit check data-demo/kitchen-log.csv\n61 rows: 61 usable; 0 errors, 0 doubts.";
    of(answer).unwrap();
    assert!(of(&answer.replace("0 doubts", "1 doubt")).unwrap_err().contains("does not say"));
    assert!(of("cargo bench").unwrap_err().contains("knows how to run"));
    assert!(of("cargo run -- fit data-demo/kitchen-log.csv --out out").is_err());
    assert!(of("kneadfit schema | head").is_err());
    assert!(follow("```bash\nls\n```\n").is_err());
    assert!(follow("```\nls\n```\n").is_err());
    assert!(follow("```sh\nls\n```\n").is_err());
    assert_eq!(follow("```text\n$ ls\n```\n"), Ok(vec![]));
}
