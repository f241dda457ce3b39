//! Files written by this version and, one day, by older ones: they stay readable.

use std::path::PathBuf;

use kneadfit::profile::{FORMAT_VERSION, Profile};

use crate::machines::all;

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/profile/written-by")
}

#[test]
fn files_of_every_version_are_read_and_still_forecast_the_same() {
    let mut versions = Vec::new();
    for version in std::fs::read_dir(folder()).unwrap() {
        let version = version.unwrap();
        versions.push(version.file_name().into_string().unwrap().parse::<u32>().unwrap());
        let mut files = 0;
        for file in std::fs::read_dir(version.path()).unwrap() {
            let path = file.unwrap().path();
            let text = std::fs::read_to_string(&path).unwrap();
            let profile =
                Profile::from_json(&text).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
            profile.run_self_test().unwrap_or_else(|e| panic!("{}: {e}", path.display()));
            files += 1;
        }
        assert!(files >= 4, "{files} files of {versions:?}");
    }
    versions.sort_unstable();
    assert_eq!(versions, (1..=FORMAT_VERSION).collect::<Vec<_>>(), "one folder a version");
}

/// Not a check: writes what the others hold the crate against.
#[test]
#[ignore = "writes files; run it on purpose after a change of the format"]
fn write_schema_and_files() {
    std::fs::write(crate::schema::path(), kneadfit::profile::json_schema()).unwrap();
    let folder = folder().join(FORMAT_VERSION.to_string());
    std::fs::create_dir_all(&folder).unwrap();
    for named in all() {
        let path = folder.join(format!("{}.profile.json", named.name));
        std::fs::write(path, named.profile.to_json()).unwrap();
    }
}
