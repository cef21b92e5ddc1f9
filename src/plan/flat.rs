//! Flat cutting: what lies on which sheet, and the program or the drawings that cut it.

use std::collections::BTreeSet;

use super::chains::{Bench, Copies, Item};
use super::error::{PlanError, nest_fault, path_fault};
use super::head::{CuttingHead, ProgramHead};
use super::moved_holds::moved_holds;
use super::notes::{drawing_notes, notes};
use super::program_head::put_time;
use crate::lattice::Lattice;
use crate::limits::SHEETS;
use crate::panel::{Blank, JobFiles, Material, Panel, Stock};
use crate::path::{CutPaths, DrawnPaths, Note, NoteKind, Program, SheetDrawing, end_bites};
use crate::safety::{
    Check, Corners, corner_checks, end_fillet_check, failed, groove_check, hold_checks, seat_check,
    slot_check, strip_check,
};
use crate::setup::{BatchKind, FlatLayout, FlatPiece, FlatSheet, SheetId};
use crate::stock::{NestCount, NestItem, StockLimit, cut_alike};
use crate::table::{Column, Table};

/// Flat cutting of one wood: pieces on sheets, and what each is cut with.
#[derive(Debug)]
pub struct FlatPlan {
    /// The wood, for [`JobFiles::wood`].
    pub wood: usize,
    /// Shapes and sheets.
    pub layout: FlatLayout,
    /// What cuts.
    pub head: CuttingHead,
    /// How many sheets there are, those that are cut alike each for itself, and how few would do.
    pub nest: NestCount,
    /// What each sheet is cut with.
    pub work: SheetWork,
    /// What the maker should know.
    pub warnings: Vec<String>,
}

/// What sheets are cut with.
#[derive(Debug)]
pub enum SheetWork {
    /// A program each, on the maker's own machine.
    Programs(Column<FlatSheet, Program>),
    /// Drawings alone, on a machine elsewhere.
    Drawings(Column<FlatSheet, SheetDrawing>),
}

/// A sheet as drawings show it.
#[derive(Debug, Clone, Copy)]
pub struct DrawnSheet<'a> {
    /// The sheet.
    pub sheet: &'a FlatSheet,
    /// What is told on its drawings, among other things.
    pub notes: &'a [Note],
    /// The paths; `None` where nothing says how wide the cut is.
    pub paths: Option<CutPaths<'a>>,
}

/// What is cut flat from one wood: shapes, and every copy of them.
pub(super) struct Batch {
    /// What it is of.
    pub(super) kind: BatchKind,
    /// The wood, for [`JobFiles::wood`].
    pub(super) wood: usize,
    /// The shapes.
    pub(super) pieces: Table<FlatPiece>,
    /// The copies.
    pub(super) items: Vec<Item>,
    /// What would have to be shorter where the stock is too short, in words.
    pub(super) longest: &'static str,
    /// What every program of it tells after its title.
    pub(super) notes: Vec<Note>,
}

impl Batch {
    /// All members of the panels, the bars of a lapped surround, and what lies among them, each with how many
    /// a panel takes; and the spares.
    pub(super) fn of(
        lattice: &Lattice,
        ring: Option<&Lattice>,
        among: &[(FlatPiece, usize)],
        panel: &Panel,
    ) -> Self {
        let mut pieces = Table::new();
        let mut one = Vec::new();
        let trimmed = panel.outline.overhang;
        for (ground, trimmed) in std::iter::once((lattice, trimmed)).chain(ring.map(|r| (r, 0.0))) {
            let shape = |class| FlatPiece::of(ground, class).with_trimmed(trimmed);
            let classes = &ground.classes;
            let classes = classes.column(|_, class| pieces.push(shape(class)));
            one.extend(ground.members.iter().map(|member| NestItem {
                piece: classes[member.class],
                id: member.id.clone(),
                length: ground.cut_length(member),
            }));
        }
        add(among, &mut pieces, &mut one);
        Self {
            kind: BatchKind::Members,
            wood: 0,
            pieces,
            items: shared(&one, panel),
            longest: "members",
            notes: Vec::new(),
        }
    }

    /// Pieces of infill for the panels, each with how many a panel takes, and the spares; `number` where there are
    /// several such batches.
    pub(super) fn infill(
        number: Option<usize>,
        wood: usize,
        pieces: &[(FlatPiece, usize)],
        panel: &Panel,
    ) -> Self {
        let (mut shapes, mut one) = (Table::new(), Vec::new());
        add(pieces, &mut shapes, &mut one);
        Self {
            kind: BatchKind::Infill(number),
            wood,
            pieces: shapes,
            items: shared(&one, panel),
            longest: "pieces",
            notes: Vec::new(),
        }
    }

    /// A check of this batch: of infill it says of which.
    fn told(&self, check: Check, material: &Material) -> Check {
        let place = match self.kind {
            BatchKind::Infill(_) => {
                format!("{}, {}: {}", self.kind.name(), material.name, check.place)
            }
            BatchKind::Members | BatchKind::Coupon(_) => check.place,
        };
        Check { place, ..check }
    }

    /// Across the row of the piece that is widest there, and of the one that is narrowest, mm.
    fn depths(&self) -> [f64; 2] {
        let depths = self.pieces.iter().map(|p| p.depth);
        let (least, most) = depths.fold((f64::INFINITY, 0.0), |(lo, hi): (f64, f64), d| {
            (lo.min(d), hi.max(d))
        });
        [most, least.min(most)]
    }
}

/// What all panels take, and the spares: of each shape so many more, with the id of its first copy.
fn shared(one: &[Item], panel: &Panel) -> Vec<Item> {
    let mut met = BTreeSet::new();
    let spares: Vec<&Item> = one.iter().filter(|item| met.insert(item.piece)).collect();
    let panels = (0..panel.quantity).flat_map(|_| one);
    let spares = (0..panel.spares_of_each()).flat_map(|_| spares.iter().copied());
    panels.chain(spares).cloned().collect()
}

/// Adds shapes, each with how many a panel takes, and every copy of them for one panel.
fn add(more: &[(FlatPiece, usize)], pieces: &mut Table<FlatPiece>, one: &mut Vec<Item>) {
    for (shape, count) in more {
        let item = NestItem {
            piece: pieces.push(shape.clone()),
            id: shape.class.clone(),
            length: shape.length,
        };
        one.extend(std::iter::repeat_n(item, *count));
    }
}

impl FlatPlan {
    /// Every sheet with the program that cuts it; none of those that are cut elsewhere.
    pub fn cuts(&self) -> impl Iterator<Item = (&FlatSheet, &Program)> {
        let programs = match &self.work {
            SheetWork::Programs(programs) => Some(programs),
            SheetWork::Drawings(_) => None,
        };
        let sheets = &self.layout.sheets;
        programs.into_iter().flat_map(|programs| {
            let all = programs.entries();
            all.map(|(id, program)| (&sheets[id], program))
        })
    }

    /// The program of a sheet; `None` where it is cut elsewhere.
    #[must_use]
    pub fn program(&self, sheet: SheetId) -> Option<&Program> {
        match &self.work {
            SheetWork::Programs(programs) => Some(&programs[sheet]),
            SheetWork::Drawings(_) => None,
        }
    }

    /// A sheet as drawings show it.
    #[must_use]
    pub fn drawn(&self, id: SheetId) -> DrawnSheet<'_> {
        let sheet = &self.layout.sheets[id];
        match &self.work {
            SheetWork::Programs(programs) => {
                let program = &programs[id];
                DrawnSheet {
                    sheet,
                    notes: &program.notes,
                    paths: Some(program.shown()),
                }
            }
            SheetWork::Drawings(drawings) => {
                let SheetDrawing { notes, paths } = &drawings[id];
                DrawnSheet {
                    sheet,
                    notes,
                    paths: paths.as_ref().map(DrawnPaths::shown),
                }
            }
        }
    }

    /// Every program, and how often it is run.
    pub fn runs(&self) -> impl Iterator<Item = (&Program, usize)> {
        self.cuts().map(|(sheet, program)| (program, sheet.loads()))
    }

    /// Plans the cutting of a batch; the checks so far, and those of flat cutting, are in `checks`. What
    /// `earlier` takes of the same wood is no longer there.
    ///
    /// # Errors
    /// Checks that fail, and stock that does not hold the pieces.
    pub(super) fn of(
        files: &JobFiles,
        mut batch: Batch,
        earlier: Option<&Self>,
        checks: &mut Vec<Check>,
        progress: &mut dyn FnMut(&str),
    ) -> Result<Self, PlanError> {
        let items = std::mem::take(&mut batch.items);
        let (material, stock) = files.wood(batch.wood);
        let thickness = material.thickness[1];
        let head = CuttingHead::of(files, material)?;
        let relief = files.panel.cut.relief;
        for piece in batch.pieces.iter_mut() {
            piece.bitten = end_bites(piece, head.radius(), relief);
        }
        let pieces = &batch.pieces;
        let corners = Corners {
            radius: head.radius(),
            relief,
            crush: material.crush,
        };
        let mut found = shape_checks(pieces.rows(), corners);
        let beyond = head.margin();
        let mut stock = Stock {
            trim: stock.trim.max(beyond),
            ..stock.clone()
        };
        if let Some(earlier) = earlier.filter(|e| e.wood == batch.wood) {
            earlier.take_from(&mut stock);
        }
        let [depth, least_depth] = batch.depths();
        let machine = files.own().map(|own| &own.machine);
        let bench = Bench {
            depth,
            least_depth,
            stock: &stock,
            spacing: head.spacing(),
            limit: machine.map_or(StockLimit::NONE, |machine| {
                // Zero is the lower left corner of a sheet: what lies before it is no room.
                let [x, y] = machine.least_zero();
                StockLimit {
                    max_x: machine.travel[0] - x - beyond,
                    max_y: machine.travel[1] - y - beyond,
                }
            }),
        };
        let copies = Copies::new(items, pieces, head.joining(material), bench);
        found.extend(head.checks(material, copies.shortest(pieces)));
        let (joined, chains) = copies.joined();
        if joined > 0 {
            found.push(groove_check(thickness));
        }
        found.push(strip_check(head.strip()));
        found.extend(machine.into_iter().flat_map(|m| corner_checks(m, beyond)));
        checks.extend(found.into_iter().map(|check| batch.told(check, material)));
        if failed(checks) {
            return Err(PlanError::Checks(std::mem::take(checks)));
        }
        progress("sheets");
        let mut flat = flat_plan(files, head, batch, &copies, bench, progress)?;
        if joined > 0 {
            flat.warnings.push(format!(
                "{joined} pieces are too short to be held one by one: they are cut joined end to end, in \
                 {chains} chains, with a groove half as deep as the stock where they are sawn apart"
            ));
        }
        if let Some(width) = flat.head.hold_width() {
            let moved = moved_holds(&flat.layout, flat.cuts(), width);
            flat.warnings.extend(moved);
        }
        if let Some(needs) = flat.head.hold_needs(material) {
            for (sheet, program) in flat.cuts() {
                checks.extend(hold_checks(&flat.layout, sheet, program, &needs));
            }
        }
        Ok(flat)
    }

    /// Takes the strips or sheets of this plan off the stock, where it counts them.
    fn take_from(&self, stock: &mut Stock) {
        for sheet in &self.layout.sheets {
            let of = |blank: &&mut Blank| {
                blank.name == sheet.stock
                    && [blank.length, blank.width] == [sheet.length, sheet.width]
            };
            let blank = stock.blanks.iter_mut().find(of);
            if let Some(count) = blank.and_then(|blank| blank.count.as_mut()) {
                *count = count.saturating_sub(u32::try_from(sheet.loads()).unwrap_or(u32::MAX));
            }
        }
    }
}

/// Whether the head gets into the notches of these shapes, and the bars into what it leaves.
fn shape_checks(pieces: &[FlatPiece], corners: Corners) -> Vec<Check> {
    let width = 2.0 * corners.radius;
    let mut checks = Vec::new();
    // Where nothing says how wide the cut is, nothing can be asked of it.
    if width > 0.0 {
        checks.extend(slot_check(pieces, width));
    }
    checks.extend(seat_check(pieces, width * corners.relief.floor_lost()));
    checks.extend(end_fillet_check(pieces, corners));
    checks
}

fn flat_plan(
    files: &JobFiles,
    head: CuttingHead,
    batch: Batch,
    copies: &Copies,
    bench: Bench<'_>,
    progress: &mut dyn FnMut(&str),
) -> Result<FlatPlan, PlanError> {
    let (material, _) = files.wood(batch.wood);
    let nest = copies
        .nest(bench, material.thickness[1])
        .map_err(|e| {
            let key = match batch.wood {
                0 => "stock",
                _ => "infill.stock",
            };
            let nearer = match files.own().map(|own| own.machine.least_zero()) {
                None | Some([0.0, 0.0]) => "",
                Some(_) => ", or a zero nearer to the travel's lower left corner (`zero`, `bed` in the machine file)",
            };
            let long = |most| {
                let longest = batch.longest;
                format!("longer stock, or {longest} of at most {most:.1} mm{nearer}")
            };
            let deep = "wider stock, or a smaller depth".into();
            nest_fault(files, key, &e, long, deep)
        })?;
    if nest.count.used > SHEETS {
        let message = format!(
            "the job is cut from {} strips or sheets of one wood; {SHEETS} are the most",
            nest.count.used
        );
        let hint = "fewer panels or spares at a time, or larger stock".to_owned();
        return Err(files
            .panel_text
            .fault("quantity", message, Some(hint))
            .into());
    }
    let layout = FlatLayout {
        job: files.panel.short_name.clone(),
        kind: batch.kind,
        pieces: batch.pieces,
        sheets: cut_alike(nest.sheets).into(),
    };
    let work = sheet_work(files, &head, batch.wood, &batch.notes, &layout, progress)?;
    Ok(FlatPlan {
        wood: batch.wood,
        head,
        layout,
        nest: nest.count,
        work,
        warnings: Vec::new(),
    })
}

/// What the sheets of a layout are cut with; `of_batch` is what every program or drawing of it tells after its title.
fn sheet_work(
    files: &JobFiles,
    head: &CuttingHead,
    wood: usize,
    of_batch: &[Note],
    layout: &FlatLayout,
    progress: &mut dyn FnMut(&str),
) -> Result<SheetWork, PlanError> {
    let sheets = &layout.sheets;
    let own = match head.for_programs() {
        Ok(own) => own,
        Err(cut) => {
            let drawings = sheets.try_column(|_, sheet| {
                progress("paths");
                let relief = files.panel.cut.relief;
                let paths = cut
                    .width
                    .map(|width| DrawnPaths::of(&layout.pieces, sheet, width, relief));
                Ok::<_, PlanError>(SheetDrawing {
                    notes: drawing_notes(files, wood, layout, sheet, of_batch),
                    paths: paths.transpose().map_err(|e| path_fault(files, &e))?,
                })
            })?;
            return Ok(SheetWork::Drawings(drawings));
        }
    };
    let programs = sheets.try_column(|_, sheet| {
        progress("paths");
        let stem = layout.stem(sheet);
        let mut notes = notes(files, head, &own, wood, layout, sheet, of_batch);
        if let (ProgramHead::Router(head), false) = (&own, sheet.chains.is_empty()) {
            notes.push(Note::new(NoteKind::Step, head.sawing()));
        }
        let made = own.program(&layout.pieces, sheet, stem, notes);
        let mut program = made.map_err(|e| path_fault(files, &e))?;
        put_time(&own.own().machine, &mut program, sheet.loads());
        Ok::<_, PlanError>(program)
    })?;
    Ok(SheetWork::Programs(programs))
}
