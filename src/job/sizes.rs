//! Sizes for an opening, the best of them planned so far that their joints, sticks, stock and time are
//! known; and the chosen one written down as a panel file.

use std::collections::BTreeMap;
use std::fs::OpenOptions;
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

use super::deliver::{DeliverError, sync_folder, within_own_limit};
use super::error::JobError;
use super::stages::planned;
use crate::lattice::NodeId;
use crate::limits::FILE_BYTES;
use crate::panel::{JobFiles, LoadError, new_layouts, new_panel, read_plain, with_size};
use crate::path::program_minutes;
use crate::plan::{FlatPlan, Plan};
use crate::size::{Asked, Closes, FoundSize, find_sizes};

/// The panel whose size is sought.
#[derive(Debug)]
pub struct Start {
    /// The files, the panel with the size that it has.
    pub files: JobFiles,
    /// The panel file as the maker knows it.
    name: String,
    bytes: Vec<u8>,
    /// Where its paths start; `None` for one of the panel files to start from.
    folder: Option<PathBuf>,
}

impl Start {
    /// A panel file, or the panel file to start from that goes by a layout's name.
    ///
    /// # Errors
    /// Files that cannot be read or are wrong.
    pub fn of(panel: &Path) -> Result<Self, JobError> {
        let starter = panel
            .to_str()
            .and_then(new_panel)
            .filter(|_| !panel.exists());
        let (name, bytes, folder) = match starter {
            Some(text) => {
                let name = format!("{} (to start from)", panel.display());
                (name, text.as_bytes().to_vec(), None)
            }
            None => {
                let bytes =
                    read_plain(panel, FILE_BYTES).map_err(|source| unread(panel, source))?;
                let folder = panel.parent().unwrap_or(Path::new(""));
                (panel.display().to_string(), bytes, Some(folder.to_owned()))
            }
        };
        let files = JobFiles::from_text(&name, &bytes, folder.as_deref())?;
        Ok(Self {
            files,
            name,
            bytes,
            folder,
        })
    }
}

fn unread(panel: &Path, source: std::io::Error) -> JobError {
    if source.kind() == ErrorKind::NotFound {
        return JobError::Call(format!(
            "there is no panel file {0}, and no layout \"{0}\"; the layouts are: {1}",
            panel.display(),
            new_layouts().join(", ")
        ));
    }
    JobError::Load(LoadError::Io {
        path: panel.to_owned(),
        source,
    })
}

/// What a size takes to make, for the whole quantity. Times are estimates without acceleration.
#[derive(Debug, Clone, PartialEq)]
pub struct Figures {
    /// Members of all panels.
    pub members: usize,
    /// Classes of them.
    pub classes: usize,
    /// Notches of all members: two or more make a joint.
    pub notches: usize,
    /// Places where bars that are cut meet, in all panels.
    pub joints: usize,
    /// Sticks to mill, spares included; 0 for a panel that is cut flat.
    pub sticks: usize,
    /// How many strips or sheets of each size of stock.
    pub stock: BTreeMap<String, usize>,
    /// Machine time, minutes; `None` where the cut is made elsewhere.
    pub minutes: Option<f64>,
}

impl Figures {
    fn of(plan: &Plan) -> Self {
        let panels = plan.files.panel.quantity as usize;
        let lattice = plan.lattice();
        let strips = plan
            .edge_up()
            .into_iter()
            .flat_map(|edge| &edge.nest.sheets);
        let strips = strips.map(|strip| (&strip.stock, strip.loads()));
        let sheets = plan.flats().flat_map(|flat| &flat.layout.sheets);
        let sheets = sheets.map(|sheet| (&sheet.stock, sheet.loads()));
        let mut stock = BTreeMap::new();
        for (name, loads) in strips.chain(sheets) {
            *stock.entry(name.clone()).or_insert(0) += loads;
        }
        let sticks = plan.edge_up().map_or(0, |edge| {
            let all = edge.sticks.sticks.iter();
            all.map(|s| (s.count + s.spares) as usize).sum()
        });
        let met = lattice.members.iter().flat_map(|m| &m.joints);
        let mut nodes: Vec<NodeId> = met.filter(|j| j.filled).map(|j| j.node).collect();
        nodes.sort_unstable();
        nodes.dedup();
        Self {
            members: lattice.members.len() * panels,
            classes: lattice.classes.len(),
            notches: lattice.joint_count() * panels,
            joints: nodes.len() * panels,
            sticks,
            stock,
            minutes: minutes(plan),
        }
    }
}

/// Time of all programs, each as often as it is run; `None` where there are none.
fn minutes(plan: &Plan) -> Option<f64> {
    let travel = plan.files.own()?.machine.travel_feed;
    let one = |p| program_minutes(p, travel);
    let flats = plan.flats().flat_map(FlatPlan::runs);
    let flat: f64 = flats.map(|(p, loads)| loads as f64 * one(p)).sum();
    let edge = plan.edge_up().map_or(0.0, |edge| {
        edge.runs()
            .map(|run| run.times as f64 * one(run.program))
            .sum()
    });
    Some(flat + edge)
}

/// A size, planned.
#[derive(Debug)]
pub struct PlannedSize {
    /// The size.
    pub fit: FoundSize,
    /// What it takes; or why it cannot be made.
    pub figures: Result<Figures, JobError>,
    /// The panel file with this size.
    text: Option<String>,
}

/// Sizes for an opening.
#[derive(Debug)]
pub struct PlannedSizes {
    /// How many counts of columns and rows close exactly, close by two widths of the surround, and miss.
    pub found: [usize; 3],
    /// The best, best first: those that close, those that close but cannot be made, those that miss.
    pub best: Vec<PlannedSize>,
}

/// For each size that is shown so many are planned, at most, to find some that can be made.
const PLANNED: usize = 3;

/// Finds the sizes that fit, plans the best, and gives the best `most` of them.
///
/// # Errors
/// What is asked cannot be, with what would be right. A size that cannot be made is no error: its own
/// [`PlannedSize::figures`] tell why.
pub fn plan_sizes(
    start: &Start,
    asked: &Asked,
    most: usize,
    progress: &mut dyn FnMut(&str),
) -> Result<PlannedSizes, JobError> {
    progress("sizes");
    let panel = &start.files.panel;
    let measured = start.files.material.measured();
    let found = find_sizes(panel, measured, asked, PLANNED * most)
        .map_err(|e| JobError::Call(e.to_string()))?;
    let mut best: Vec<PlannedSize> = Vec::new();
    let mut sound = 0;
    for fit in found.best {
        if sound == most {
            break;
        }
        let planned = start.planned(fit, progress);
        sound += usize::from(planned.figures.is_ok());
        best.push(planned);
    }
    // Stable: within each kind the order stays.
    best.sort_by_key(|one| match (one.fit.closes, &one.figures) {
        (Closes::Misses, _) => 2,
        (_, Err(_)) => 1,
        (_, Ok(_)) => 0,
    });
    best.truncate(most);
    Ok(PlannedSizes {
        found: found.found,
        best,
    })
}

impl Start {
    fn planned(&self, fit: FoundSize, progress: &mut dyn FnMut(&str)) -> PlannedSize {
        let to = fit.applied(&self.files.panel);
        let text = with_size(&self.name, &self.bytes, &to).map_err(JobError::from);
        let figures = text.as_ref().map_err(|e| JobError::Call(e.to_string()));
        let figures = figures.and_then(|text| {
            let files = JobFiles::from_text(&self.name, text.as_bytes(), self.folder.as_deref())?;
            Ok(Figures::of(&planned(files, progress)?))
        });
        PlannedSize {
            text: text.ok(),
            fit,
            figures,
        }
    }
}

impl PlannedSize {
    /// Writes the panel file with this size to a new file.
    ///
    /// # Errors
    /// A size that misses the opening or cannot be made, a file that is already there, and one from whose
    /// folder the other files of the panel are not found: nothing is written.
    pub fn write(&self, file: &Path) -> Result<(), JobError> {
        let call = |what: String| Err(JobError::Call(what));
        let refused = match (self.fit.closes, self.fit.past) {
            (Closes::Misses, _) => Some(
                "this size misses the opening, so it is not written: pick one that closes, or widen the \
                 range of pitches or of the surround",
            ),
            (_, None) => Some(
                "this size is not written: a surround of one width does not close it, and the ground \
                 cannot run on past a side along the inner edge, where joints would show as open notches; \
                 pick an exact one, or let that side lie clear of its joints",
            ),
            _ => None,
        };
        if let Some(refused) = refused {
            return call(refused.into());
        }
        if let Err(e) = &self.figures {
            return call(format!(
                "this size cannot be made, so it is not written: {e}"
            ));
        }
        let Some(text) = &self.text else {
            return Err(JobError::Internal("a size without a file".into()));
        };
        let folder = file.parent().unwrap_or(Path::new(""));
        let name = file.display().to_string();
        // As `make` will read it from where it lies.
        JobFiles::from_text(&name, text.as_bytes(), Some(folder)).map_err(|e| {
            JobError::Call(format!(
                "{name} would not be sound, so it is not written; write it into the folder of the panel \
                 file that it is made from:\n{e}"
            ))
        })?;
        within_own_limit(&name, text.len() as u64)?;
        let fresh = OpenOptions::new().write(true).create_new(true).open(file);
        let mut fresh = match fresh {
            Ok(fresh) => fresh,
            Err(e) if e.kind() == ErrorKind::AlreadyExists => {
                return call(format!("{name} is already there: name a new file"));
            }
            Err(e) if matches!(e.kind(), ErrorKind::NotFound | ErrorKind::NotADirectory) => {
                return call(format!("there is no folder for {name}: make it first"));
            }
            Err(e) => return Err(system(file, e)),
        };
        let written = fresh
            .write_all(text.as_bytes())
            .and_then(|()| fresh.sync_all())
            .and_then(|()| sync_folder(folder));
        written.map_err(|e| {
            // Half a file is of no use; what the system says about that matters less than the first error.
            let _ = std::fs::remove_file(file);
            system(file, e)
        })
    }
}

fn system(file: &Path, source: std::io::Error) -> JobError {
    let doing = format!("cannot write {}", file.display());
    JobError::Deliver(DeliverError::System { doing, source })
}
