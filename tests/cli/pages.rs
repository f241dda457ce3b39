//! Help, completions, manual and schema.

use crate::support::{GOOD, Kitchen};

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

#[test]
fn help_has_an_example_for_each_command() {
    let kitchen = Kitchen::new();
    let run = kitchen.run(&["--help"]).ended(0).out_says(&["Example:", "exit code", "NO_COLOR"]);
    assert_eq!(run.err, "");
    for command in COMMANDS {
        assert!(run.out.contains(command), "{command}");
        for flag in ["--help", "-h"] {
            let help = kitchen.run(&[command, flag]).ended(0);
            assert_eq!(help.err, "");
            let example = help.out.split("Example").nth(1).unwrap_or_default();
            assert!(example.contains(&format!("kneadfit {command}")), "{}", help.out);
        }
    }
}

#[test]
fn usage_errors_end_with_2_on_standard_error() {
    let kitchen = Kitchen::new();
    for arguments in [&[][..], &["bake"], &["check"], &["fit", "a.csv"], &["check", "--loud", "a"]]
    {
        let run = kitchen.run(arguments).ended(2);
        assert_eq!(run.out, "");
        assert!(run.err.contains("Usage"), "{}", run.err);
    }
    assert!(kitchen.run(&["--version"]).ended(0).out.starts_with("kneadfit "));
}

#[test]
fn completions_name_every_command() {
    let kitchen = Kitchen::new();
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let run = kitchen.run(&["completions", shell]).ended(0);
        for command in COMMANDS {
            assert!(run.out.contains(command), "{shell}: {command}");
        }
    }
    kitchen.run(&["completions", "csh"]).ended(2).err_says(&["csh", "possible values"]);
}

#[test]
fn manual_pages_are_in_the_form_of_man() {
    let kitchen = Kitchen::new();
    let tool = kitchen.run(&["man"]).ended(0).out;
    assert!(tool.contains(".TH") && tool.contains("Example"), "{tool}");
    for command in COMMANDS {
        // A page of man writes a hyphen that is not to be broken as `\-`.
        assert!(tool.contains(&command.replace('-', "\\-")), "{command}");
        let page = kitchen.run(&["man", command]).ended(0).out;
        let title = format!(".TH kneadfit-{command}");
        assert!(page.contains(&title) && page.contains("Example"), "{page}");
    }
    assert!(kitchen.run(&["man", "fit"]).out.contains("usual\\-charge\\-kg"));
    kitchen.run(&["man", "bake"]).ended(2).err_says(&["no command \"bake\"", "check, tidy, fit"]);
}

#[test]
fn the_schema_knows_the_keys_of_a_profile() {
    let kitchen = Kitchen::new();
    let schema = kitchen.run(&["schema"]).ended(0).json();
    let profile = std::fs::read_to_string(kitchen.profile_of(GOOD)).unwrap();
    let profile: serde_json::Value = serde_json::from_str(&profile).unwrap();
    for key in profile.as_object().unwrap().keys() {
        assert!(schema["properties"].get(key).is_some(), "{key}");
    }
}
