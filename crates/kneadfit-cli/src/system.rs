//! What the operating system refuses, in sentences: which path, why, and what to do.

use std::io::{Error, ErrorKind};

/// Why something was refused, and what to do, to stand behind a path.
pub fn why(error: &Error) -> String {
    match error.kind() {
        ErrorKind::NotFound => "there is nothing of that name; look at its spelling, and at the \
                                folder that you are in"
            .into(),
        ErrorKind::PermissionDenied => {
            "you have no permission; ask whoever owns it, or choose another place".into()
        }
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => {
            "the disk is full; make room and try again".into()
        }
        ErrorKind::ReadOnlyFilesystem => "the disk takes no writing; choose another folder".into(),
        ErrorKind::NotADirectory => {
            "a part of the path is a file and no folder; choose another path".into()
        }
        ErrorKind::IsADirectory => "it is a folder; name a file in it".into(),
        ErrorKind::AlreadyExists => "something of that name is in the way".into(),
        ErrorKind::InvalidFilename => "the system takes no such name; choose a shorter one".into(),
        _ => {
            let said = error.to_string();
            let words = said.split(" (os error").next().unwrap_or_default();
            format!("the system says \u{201c}{words}\u{201d}")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_error_is_a_number() {
        for kind in [ErrorKind::NotFound, ErrorKind::StorageFull, ErrorKind::NotADirectory] {
            assert!(why(&Error::from(kind)).contains(';'), "{kind}");
        }
        // 5 is an error of input or output wherever there are such numbers.
        let raw = why(&Error::from_raw_os_error(5));
        assert!(!raw.contains("os error"), "{raw}");
    }
}
