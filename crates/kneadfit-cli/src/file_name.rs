//! Machine names as file names: safe everywhere, and never two the same.
//!
//! Letters and digits of any script, spaces and `-_.()+,` stay as they are; every other
//! character is written as `%` and two hexadecimal digits a byte, so that two names that
//! differ stay two. Names that some systems take for one file, or that are too long, end in
//! `~` and the beginning of their hash.

use std::collections::HashMap;

use sha2::{Digest, Sha256};

/// Longest name that is given to a machine's files, bytes; their endings come on top.
const MOST_BYTES: usize = 100;
/// Bytes of the hash that tell two names apart.
const HASH_BYTES: usize = 4;

/// Names that some systems keep for devices, whatever follows after a full stop.
const DEVICES: [&str; 6] = ["con", "prn", "aux", "nul", "com", "lpt"];

/// A file name for each machine, in their order.
pub fn file_names(machines: &[&str]) -> Vec<String> {
    let plain: Vec<String> = machines.iter().map(|machine| encoded(machine)).collect();
    // Some systems take upper and lower case for the same.
    let folded: Vec<String> = plain.iter().map(|name| name.to_lowercase()).collect();
    let mut count: HashMap<&str, usize> = HashMap::new();
    for name in &folded {
        *count.entry(name).or_default() += 1;
    }
    plain
        .iter()
        .enumerate()
        .map(|(index, name)| {
            let alone = count[&*folded[index]] == 1;
            if name.len() <= MOST_BYTES && (alone || *name == folded[index]) {
                name.clone()
            } else {
                with_hash(name, machines[index])
            }
        })
        .collect()
}

fn encoded(machine: &str) -> String {
    let mut name = String::with_capacity(machine.len());
    let device = is_device(machine);
    for (index, character) in machine.chars().enumerate() {
        let hidden = index == 0 && (device || matches!(character, '.' | '-' | ' '));
        if stays(character) && !hidden {
            name.push(character);
        } else {
            let mut bytes = [0; 4];
            for byte in character.encode_utf8(&mut bytes).bytes() {
                name.push_str(&format!("%{byte:02X}"));
            }
        }
    }
    if name.is_empty() { "%".into() } else { name }
}

fn stays(character: char) -> bool {
    // Marks that some systems join with the letter before them are not left to them.
    let joins = matches!(character, '\u{300}'..='\u{36F}');
    (character.is_alphanumeric() && !joins) || " -_.()+,".contains(character)
}

fn is_device(machine: &str) -> bool {
    let stem = machine.split('.').next().unwrap_or_default().trim_end().to_lowercase();
    let numbered = stem.strip_suffix(|c: char| c.is_ascii_digit());
    DEVICES.contains(&&*stem) || numbered.is_some_and(|name| matches!(name, "com" | "lpt"))
}

fn with_hash(name: &str, machine: &str) -> String {
    let most = MOST_BYTES - 1 - 2 * HASH_BYTES;
    let mut end = most.min(name.len());
    // Not within a character, nor within one that is written as %XX.
    while !name.is_char_boundary(end) || name[..end].bytes().rev().take(2).any(|b| b == b'%') {
        end -= 1;
    }
    let hash = Sha256::digest(machine.as_bytes());
    let hash: String = hash.iter().take(HASH_BYTES).map(|byte| format!("{byte:02x}")).collect();
    format!("{}~{hash}", &name[..end])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one(machine: &str) -> String {
        file_names(&[machine]).remove(0)
    }

    #[test]
    fn plain_names_stay_and_the_rest_is_spelt_out() {
        assert_eq!(one("Spiral 1"), "Spiral 1");
        assert_eq!(one("Spiral/1"), "Spiral%2F1");
        assert_eq!(one("Spiral%2F1"), "Spiral%252F1");
        assert_eq!(one("pétrin à spirale"), "pétrin à spirale");
        assert_eq!(one("pe\u{301}trin"), "pe%CC%81trin");
        assert_eq!(one("../../etc"), "%2E.%2F..%2Fetc");
        assert_eq!(one("a\\b:c*d?\"<>|\n"), "a%5Cb%3Ac%2Ad%3F%22%3C%3E%7C%0A");
        assert_eq!(one(""), "%");
    }

    #[test]
    fn names_that_a_system_keeps_are_avoided() {
        assert_eq!(one("con"), "%63on");
        assert_eq!(one("LPT1.old"), "%4CPT1.old");
        assert_eq!(one("nul "), "%6Eul ");
        assert_eq!(one("console"), "console");
    }

    #[test]
    fn names_that_differ_in_case_are_told_apart() {
        let names = file_names(&["Spiral", "spiral", "SPIRAL"]);
        assert_eq!(names[1], "spiral");
        assert!(names[0].starts_with("Spiral~") && names[2].starts_with("SPIRAL~"));
        assert_ne!(names[0].to_lowercase(), names[2].to_lowercase());
        assert_eq!(one("Spiral"), "Spiral");
    }

    #[test]
    fn long_names_are_cut_and_stay_apart() {
        let long = |end: &str| format!("{}{end}", "é/".repeat(200));
        let (a, b) = (long("1"), long("2"));
        let names = file_names(&[&a, &b]);
        assert_ne!(names[0], names[1]);
        for name in names {
            assert!(name.len() <= MOST_BYTES, "{name}");
            assert!(!name.contains("%~") && !name.contains("%2~"), "{name}");
        }
    }
}
