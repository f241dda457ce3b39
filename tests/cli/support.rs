//! Running the tool, and logs to run it on.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// What a run of the tool left.
pub struct Run {
    pub code: i32,
    pub out: String,
    pub err: String,
}

impl Run {
    /// The run, which must have ended with this exit code.
    #[track_caller]
    pub fn ended(self, code: i32) -> Self {
        assert_eq!(self.code, code, "stdout:\n{}\nstderr:\n{}", self.out, self.err);
        self
    }

    /// The run, whose standard error must say each of these.
    #[track_caller]
    pub fn err_says(self, words: &[&str]) -> Self {
        for word in words {
            assert!(self.err.contains(word), "{word:?} is not in stderr:\n{}", self.err);
        }
        self
    }

    /// The run, whose standard output must say each of these.
    #[track_caller]
    pub fn out_says(self, words: &[&str]) -> Self {
        for word in words {
            assert!(self.out.contains(word), "{word:?} is not in stdout:\n{}", self.out);
        }
        self
    }

    /// Standard output as JSON.
    #[track_caller]
    pub fn json(&self) -> serde_json::Value {
        serde_json::from_str(&self.out).unwrap_or_else(|error| panic!("{error}:\n{}", self.out))
    }
}

/// A folder of its own for one test, removed with it.
pub struct Kitchen(tempfile::TempDir);

impl Kitchen {
    pub fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    pub fn write(&self, name: &str, content: impl AsRef<[u8]>) -> PathBuf {
        std::fs::write(self.path(name), content).unwrap();
        self.path(name)
    }

    pub fn read(&self, name: &str) -> String {
        std::fs::read_to_string(self.path(name)).unwrap()
    }

    /// Names in a folder, hidden ones too, sorted.
    pub fn names(&self, folder: &str) -> Vec<String> {
        let Ok(entries) = std::fs::read_dir(self.path(folder)) else { return Vec::new() };
        let mut names: Vec<String> =
            entries.map(|e| e.unwrap().file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        names
    }

    /// Runs the tool in this folder.
    pub fn run(&self, arguments: &[&str]) -> Run {
        self.run_with(arguments, &[], b"")
    }

    /// Runs the tool in this folder with an environment and a standard input.
    pub fn run_with(&self, arguments: &[&str], environment: &[(&str, &str)], input: &[u8]) -> Run {
        let mut command = tool();
        command.current_dir(self.0.path()).args(arguments).envs(environment.iter().copied());
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = command.spawn().unwrap();
        // A tool that refuses its arguments does not read its input.
        let _ = child.stdin.take().unwrap().write_all(input);
        let output = child.wait_with_output().unwrap();
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
        let code = output.status.code().expect("the tool was killed");
        let run = Run { code, out: text(output.stdout), err: text(output.stderr) };
        assert!(!run.err.contains("panicked"), "{}", run.err);
        run
    }

    /// Calibrates a log and returns the path of the profile of its one machine.
    #[track_caller]
    pub fn profile_of(&self, log: &str) -> PathBuf {
        let log = self.write("to-fit.csv", log);
        self.run(&["fit", log.to_str().unwrap(), "--out", "fitted"]).ended(0);
        self.path("fitted/to-fit.profile.json")
    }
}

/// The tool, blind to the environment that the tests run in.
pub fn tool() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_kneadfit"));
    for variable in ["NO_COLOR", "CLICOLOR", "CLICOLOR_FORCE", "SOURCE_DATE_EPOCH"] {
        command.env_remove(variable);
    }
    command
}

/// A file of the demo.
pub fn demo(name: &str) -> String {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data-demo").join(name).display().to_string()
}

pub const HEADER: &str = "batch,flour_kg,flour_c,water_kg,water_c,room_c,minutes_low,dough_c";

/// Batches of one invented machine, good in every row.
pub const GOOD: &str = "batch,flour_kg,flour_c,water_kg,water_c,room_c,minutes_low,minutes_high,dough_c,development\n\
     1,10,21,6.5,8,24,8,2,21.1,0.6\n\
     2,10,20,6.2,12,22,4,6,24.9,0.9\n\
     3,8,22,5.4,10,25,6,4,23.3,0.8\n\
     4,12,19,7.5,14,21,10,3,24.6,0.8\n\
     5,10,21,6.5,9,23,3,8,25.4,1\n";

/// A log of such rows under the short header.
pub fn log_of(rows: &[&str]) -> String {
    let mut text = format!("{HEADER}\n");
    for row in rows {
        text.push_str(row);
        text.push('\n');
    }
    text
}

pub const ROW: &str = "1,10,21,6.5,12,24,10,22.9";
pub const OTHER_ROW: &str = "2,10,21,6.5,8,24,14,22.4";
