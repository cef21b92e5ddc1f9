//! Reads a file that someone has named: a plain one, and no more of it than a limit.

use std::fs::{File, OpenOptions};
use std::io::{self, Read};
use std::path::Path;

/// The bytes of a plain file, at most one more than `most`: that one shows that the file is too large, however
/// large it is. Links are followed.
///
/// # Errors
/// What the system says; [`io::ErrorKind::IsADirectory`] for a folder, and [`io::ErrorKind::InvalidData`] for a
/// pipe, a device or the like, which is not waited for.
pub(crate) fn read_plain(path: &Path, most: usize) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    open_plain(path)?
        .take(most as u64 + 1)
        .read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// A plain file, to be read. Links are followed.
///
/// # Errors
/// Those of [`read_plain`].
pub(crate) fn open_plain(path: &Path) -> io::Result<File> {
    // Looked at before it is opened, since opening alone may wait or do something; and after, since another
    // may have taken its place.
    plain(&std::fs::metadata(path)?)?;
    let file = open(path)?;
    plain(&file.metadata()?)?;
    Ok(file)
}

fn plain(meta: &std::fs::Metadata) -> io::Result<()> {
    if meta.is_dir() {
        return Err(io::ErrorKind::IsADirectory.into());
    }
    if !meta.is_file() {
        let what =
            "it is no plain file but a pipe, a device or the like: save what it gives in a file";
        return Err(io::Error::new(io::ErrorKind::InvalidData, what));
    }
    Ok(())
}

/// Opens without waiting for whoever writes at the other end.
#[cfg(unix)]
fn open(path: &Path) -> io::Result<File> {
    use rustix::fs::OFlags;
    use std::os::unix::fs::OpenOptionsExt;
    let flags = i32::try_from(OFlags::NONBLOCK.bits()).unwrap_or_default();
    OpenOptions::new().read(true).custom_flags(flags).open(path)
}

#[cfg(not(unix))]
fn open(path: &Path) -> io::Result<File> {
    OpenOptions::new().read(true).open(path)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_read_up_to_a_byte_past_the_limit() {
        let dir = tempfile::tempdir().expect("a folder");
        let path = dir.path().join("f");
        std::fs::write(&path, b"12345").expect("written");
        for (most, read) in [(3, "1234"), (4, "12345"), (5, "12345"), (9, "12345")] {
            assert_eq!(read_plain(&path, most).expect("read"), read.as_bytes());
        }
        let kind = |path: &Path| read_plain(path, 9).expect_err("refused").kind();
        assert_eq!(kind(dir.path()), io::ErrorKind::IsADirectory);
        assert_eq!(kind(&dir.path().join("none")), io::ErrorKind::NotFound);
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn what_is_no_plain_file_is_not_waited_for() {
        let null = read_plain(Path::new("/dev/zero"), 9).expect_err("refused");
        assert_eq!(null.kind(), io::ErrorKind::InvalidData);
        assert!(null.to_string().contains("no plain file"), "{null}");
    }
}
