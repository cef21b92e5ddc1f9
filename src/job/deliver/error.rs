//! Why a folder was not put in place.

use std::fmt;
use std::io;
use std::path::PathBuf;

use crate::limits::{FOLDER_FILES, FOLDER_NAME, FOLDER_PATH, WAIT_S};

/// Why a folder was not put in place. What was there before is untouched.
#[derive(Debug)]
pub enum DeliverError {
    /// The path is no folder.
    NotAFolder(PathBuf),
    /// The path names no folder from outside: `.`, `..` or a root.
    Nameless(PathBuf),
    /// The path or the name of the folder is too long.
    LongName(PathBuf),
    /// The folder holds files that this program did not make.
    NotOurs {
        /// The folder.
        dir: PathBuf,
        /// The first such file.
        file: String,
    },
    /// A file of the folder was edited since it was made.
    Edited {
        /// The folder.
        dir: PathBuf,
        /// The first such file.
        file: String,
    },
    /// The folder would lie in another job, which then holds what it must not.
    InsideJob {
        /// The folder.
        dir: PathBuf,
        /// The job that it would lie in.
        job: PathBuf,
    },
    /// Something that this program did not make has the name that its new folder needs while it is written.
    InTheWay(PathBuf),
    /// What the new folder has replaced had got something that this program did not make meanwhile.
    LeftAside {
        /// The folder, which is in place.
        dir: PathBuf,
        /// Where what it held before lies.
        aside: PathBuf,
    },
    /// Another run, or another program, kept this folder locked all the time that was waited.
    Busy(PathBuf),
    /// A file is larger than the one that calls lets it become.
    OwnLimit {
        /// The file.
        file: String,
        /// What it needs, bytes.
        bytes: u64,
        /// What it may have, bytes.
        limit: u64,
    },
    /// The system refused.
    System {
        /// What was tried.
        doing: String,
        /// What the system says.
        source: io::Error,
    },
}

impl DeliverError {
    /// Exit status: 2 the call is wrong, 3 the system refused.
    #[must_use]
    pub fn exit_status(&self) -> u8 {
        match self {
            Self::NotAFolder(_)
            | Self::Nameless(_)
            | Self::LongName(_)
            | Self::NotOurs { .. }
            | Self::Edited { .. }
            | Self::InsideJob { .. }
            | Self::InTheWay(_) => 2,
            // A name that is too long, or leads through a file, is a wrong call whoever tells it.
            Self::System { source, .. } => match source.kind() {
                io::ErrorKind::InvalidFilename | io::ErrorKind::NotADirectory => 2,
                _ => 3,
            },
            Self::LeftAside { .. } | Self::Busy(_) | Self::OwnLimit { .. } => 3,
        }
    }
}

impl fmt::Display for DeliverError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotAFolder(dir) => {
                write!(
                    f,
                    "{} is not a folder that can be replaced; name a new folder for the job",
                    dir.display()
                )
            }
            Self::Nameless(dir) => write!(
                f,
                "{} cannot be replaced as a whole; name the job's folder from the one above it",
                dir.display()
            ),
            Self::LongName(dir) => {
                /// Enough to know it by.
                const SHOWN: usize = 60;
                let name = dir.display().to_string();
                let shown: String = name.chars().take(SHOWN).collect();
                write!(
                    f,
                    "the folder's name is too long: at most {FOLDER_NAME} bytes, and {FOLDER_PATH} with all that \
                     stands before it: {shown} ..."
                )
            }
            Self::NotOurs { dir, file } => write!(
                f,
                "{} holds {file}, which this program did not make; name a new or empty folder",
                dir.display()
            ),
            Self::Edited { dir, file } => write!(
                f,
                "{} holds {file}, which has been edited since it was made: name another folder, or add --replace to have \
                 it replaced with the rest",
                dir.display()
            ),
            Self::InsideJob { dir, job } => write!(
                f,
                "{} would lie in {}, which is a job itself and may hold nothing else; name a folder outside it",
                dir.display(),
                job.display()
            ),
            Self::InTheWay(path) => write!(
                f,
                "{} is in the way: a new folder is written under this name before it is put in place, and \
                 this program did not make what is there (or more than {FOLDER_FILES} files lie in it); move \
                 it, or name another folder",
                path.display()
            ),
            Self::LeftAside { dir, aside } => write!(
                f,
                "{} is in place; what it held before got something more meanwhile, and lies in {}",
                dir.display(),
                aside.display()
            ),
            Self::Busy(parent) => write!(
                f,
                "another run, or another program, has had {} locked for {WAIT_S} seconds; nothing was written: \
                 try again when it has ended",
                parent.display()
            ),
            Self::OwnLimit { file, bytes, limit } => write!(
                f,
                "cannot write {file}: it needs {bytes} bytes, and this shell lets a file have {limit} (`ulimit \
                 -f`)"
            ),
            Self::System { doing, source } => write!(f, "{doing}: {source}"),
        }
    }
}

impl std::error::Error for DeliverError {}

/// What the system says, with what was tried.
pub(in crate::job) fn system(doing: impl Into<String>) -> impl FnOnce(io::Error) -> DeliverError {
    let doing = doing.into();
    move |source| DeliverError::System { doing, source }
}
