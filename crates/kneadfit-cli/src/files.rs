//! The one place that writes files: whole, together, or not at all.

use std::fs;
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

use anyhow::{anyhow, bail};
use tempfile::{Builder, NamedTempFile};

use crate::system::why;

/// A folder into which files are written.
pub struct Folder {
    path: PathBuf,
}

impl Folder {
    /// Makes the folder where it does not exist, and makes sure that it can be written.
    pub fn open(path: &Path) -> anyhow::Result<Self> {
        if path.is_file() {
            bail!(
                "cannot make the folder {}: a file of that name is in the way; give another \
                 folder with --out",
                path.display()
            );
        }
        fs::create_dir_all(path).map_err(|error| {
            anyhow!("cannot make the folder {}: {}", path.display(), why(&error))
        })?;
        let folder = Self { path: path.into() };
        folder.temporary()?;
        Ok(folder)
    }

    /// The folder of a file that is to be written, and the file's name in it. The folder must
    /// be there: a slip of the keyboard makes none for a single file.
    pub fn of_file(path: &Path) -> anyhow::Result<(Self, String)> {
        let shown = path.display();
        if path.is_dir() {
            bail!(
                "cannot write {shown}: it is a folder; give a file in it, as {}",
                path.join("log.csv").display()
            );
        }
        let name = path.file_name().and_then(|name| name.to_str());
        let Some(name) = name else { bail!("{shown} is no name for a file") };
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
        let folder = folder.unwrap_or(Path::new("."));
        if !folder.exists() {
            bail!(
                "cannot write {shown}: there is no folder {}; look at its spelling, or make it \
                 first",
                folder.display()
            );
        }
        Ok((Self::open(folder)?, name.to_owned()))
    }

    /// Where a file of this name lies.
    pub fn path_of(&self, name: &str) -> PathBuf {
        // The folder that one is in goes without saying.
        if self.path == Path::new(".") { PathBuf::from(name) } else { self.path.join(name) }
    }

    /// The text of a file; `None`: there is none.
    pub fn text_of(&self, name: &str) -> Option<String> {
        fs::read_to_string(self.path_of(name)).ok()
    }

    /// Writes files by name. All are complete in the folder, under temporary names, before
    /// the first takes its own name and the place of what stood there.
    pub fn write_together<C: AsRef<[u8]>>(&self, files: &[(String, C)]) -> anyhow::Result<()> {
        let mut made = Vec::with_capacity(files.len());
        for (name, content) in files {
            made.push((self.complete(name, content.as_ref())?, self.path_of(name)));
        }
        for (file, target) in made {
            file.persist(&target)
                .map_err(|failed| failed.error)
                .map_err(|error| anyhow!("cannot write {}: {}", target.display(), why(&error)))?;
        }
        Ok(())
    }

    /// Writes a file that must not be there yet: nothing of a baker's is overwritten.
    pub fn write_new(&self, name: &str, content: &[u8]) -> anyhow::Result<()> {
        let target = self.path_of(name);
        let shown = target.display();
        self.complete(name, content)?.persist_noclobber(&target).map_err(|failed| match failed
            .error
            .kind()
        {
            ErrorKind::AlreadyExists => {
                anyhow!("{shown} is there already, and is not overwritten: give another name")
            }
            _ => anyhow!("cannot write {shown}: {}", why(&failed.error)),
        })?;
        Ok(())
    }

    /// A file's content under a temporary name.
    fn complete(&self, name: &str, content: &[u8]) -> anyhow::Result<NamedTempFile> {
        let target = self.path_of(name);
        let cannot = |error| anyhow!("cannot write {}: {}", target.display(), why(&error));
        if target.is_dir() {
            bail!("cannot write {}: a folder of that name is in the way", target.display());
        }
        let mut file = self.temporary()?;
        file.write_all(content).map_err(cannot)?;
        // On the disk before it is named: a loss of power leaves the old or the new.
        file.as_file().sync_data().map_err(cannot)?;
        Ok(file)
    }

    /// A file that is removed unless it is given a name.
    fn temporary(&self) -> anyhow::Result<NamedTempFile> {
        let mut builder = Builder::new();
        builder.prefix(".kneadfit-").suffix(".part");
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            // As any new file, not for the user alone: what a colleague may do stays with the
            // system's mask.
            builder.permissions(fs::Permissions::from_mode(0o666));
        }
        builder.tempfile_in(&self.path).map_err(|error| {
            // What the library adds of its own names a file that never was.
            let error = std::io::Error::from(error.kind());
            anyhow!("cannot write into the folder {}: {}", self.path.display(), why(&error))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(path: &Path) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(path)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn nothing_is_named_when_one_file_cannot_be_written() {
        let base = tempfile::tempdir().unwrap();
        let folder = Folder::open(&base.path().join("out")).unwrap();
        fs::create_dir(folder.path_of("b")).unwrap();
        let files = [("a".to_owned(), "1".to_owned()), ("b".to_owned(), "2".to_owned())];
        let error = folder.write_together(&files).unwrap_err();
        assert!(error.to_string().contains("in the way"), "{error}");
        assert_eq!(names(&base.path().join("out")), ["b"]);
    }

    #[test]
    fn what_stood_there_is_replaced() {
        let base = tempfile::tempdir().unwrap();
        let folder = Folder::open(base.path()).unwrap();
        for content in ["old", "new"] {
            folder.write_together(&[("a".to_owned(), content.to_owned())]).unwrap();
        }
        assert_eq!(folder.text_of("a").as_deref(), Some("new"));
        assert_eq!(names(base.path()), ["a"]);
    }
}
