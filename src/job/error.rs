//! Why a job stops, and the exit status that goes with it.

use std::fmt;

use super::deliver::DeliverError;
use super::unproven::Unproven;
use crate::geom::micron;
use crate::panel::{Faults, LoadError};
use crate::plan::PlanError;
use crate::safety::{Check, Status};

/// Why a job stops. Nothing has been written.
#[derive(Debug)]
pub enum JobError {
    /// The files are wrong, or could not be read.
    Load(LoadError),
    /// The call names something else than it should; what would be right.
    Call(String),
    /// The files are sound but do not make a panel, or not one that can be cut.
    Panel(Vec<Faults>),
    /// Checks failed.
    Checks(Vec<Check>),
    /// A folder is not what it says: what was found, line by line.
    Proof(Vec<String>),
    /// The files that were made do not prove true, though all checks passed.
    Unproven(Unproven),
    /// The folder could not be put in place.
    Deliver(DeliverError),
    /// Something that only a fault of this program brings about.
    Internal(String),
}

impl JobError {
    /// Exit status: 1 a check failed, 2 the input is wrong, 3 the system refused.
    #[must_use]
    pub fn exit_status(&self) -> u8 {
        match self {
            Self::Load(LoadError::Io { source, .. }) => {
                use std::io::ErrorKind::{
                    InvalidData, InvalidFilename, InvalidInput, IsADirectory, NotADirectory,
                    NotFound,
                };
                match source.kind() {
                    NotFound | IsADirectory | NotADirectory | InvalidInput | InvalidData
                    | InvalidFilename => 2,
                    _ => 3,
                }
            }
            Self::Load(LoadError::Faults(_)) | Self::Panel(_) | Self::Call(_) => 2,
            Self::Checks(_) | Self::Proof(_) | Self::Unproven(_) => 1,
            Self::Deliver(e) => e.exit_status(),
            Self::Internal(_) => 3,
        }
    }
}

impl JobError {
    /// As it is displayed, with colours for a terminal (ECMA-48) where it points into files.
    #[must_use]
    pub fn coloured(&self) -> String {
        let each = |list: &[Faults]| list.iter().map(Faults::coloured).collect::<Vec<_>>();
        match self {
            Self::Load(LoadError::Faults(list)) => each(list).join("\n\n"),
            Self::Panel(list) => each(list).join("\n"),
            other => other.to_string(),
        }
    }
}

impl From<LoadError> for JobError {
    fn from(e: LoadError) -> Self {
        Self::Load(e)
    }
}

impl From<PlanError> for JobError {
    fn from(e: PlanError) -> Self {
        match e {
            PlanError::Panel(faults) => Self::Panel(faults),
            PlanError::Checks(checks) => Self::Checks(checks),
            PlanError::Internal(what) => Self::Internal(what),
        }
    }
}

impl From<DeliverError> for JobError {
    fn from(e: DeliverError) -> Self {
        Self::Deliver(e)
    }
}

impl From<Faults> for JobError {
    fn from(e: Faults) -> Self {
        Self::Panel(vec![e])
    }
}

impl fmt::Display for JobError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Load(e) => write!(f, "{e}"),
            Self::Call(what) => write!(f, "{what}"),
            Self::Panel(list) => {
                for (i, faults) in list.iter().enumerate() {
                    if i > 0 {
                        writeln!(f)?;
                    }
                    write!(f, "{faults}")?;
                }
                Ok(())
            }
            Self::Checks(checks) => {
                write!(f, "checks failed; nothing was written")?;
                for c in checks.iter().filter(|c| c.status == Status::Fail) {
                    write!(
                        f,
                        "\n  {}: {} {unit}, must be {} {} {unit} ({})\n    what helps: {}",
                        c.id,
                        micron(c.value),
                        c.bound.word(),
                        micron(c.limit),
                        c.place,
                        c.advice(),
                        unit = c.unit
                    )?;
                }
                Ok(())
            }
            Self::Proof(lines) => {
                /// So many findings tell the story; more would hide it.
                const SHOWN: usize = 20;
                write!(f, "the proof failed")?;
                for line in lines.iter().take(SHOWN) {
                    write!(f, "\n  {line}")?;
                }
                if lines.len() > SHOWN {
                    write!(f, "\n  and {} more", lines.len() - SHOWN)?;
                }
                Ok(())
            }
            Self::Unproven(e) => write!(f, "{e}"),
            Self::Deliver(e) => write!(f, "{e}"),
            Self::Internal(what) => write!(f, "a fault of this program: {what}"),
        }
    }
}

impl std::error::Error for JobError {}
