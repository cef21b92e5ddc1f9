//! Where every bar of a job bears its orientation mark, so that none goes into the panel turned.
//!
//! The groove that a clamping cuts lies at one place of every stick (`mark.rs`). Pieces of one class may lie in
//! their sticks in different turns, and pieces beyond the first of a stick have no groove; yet all pieces of a
//! class end up in one heap. So each class has one place for its mark: that of the groove on most of its
//! pieces. Every piece without a groove there gets a pencilled cross at that place before cross-cutting; where a
//! piece has both, the cross counts. A bar is then placed by its mark alone: a mark in one edge tells all four
//! turns apart, and one in both edges is left to classes that are the same turned over.

use super::gang::Gang;
use super::mark::{Mark, half_run};
use crate::geom::cot_deg;
use crate::lattice::{
    BarEnd, BarMark, Class, Edge, End, EndShape, Lattice, MarkEdges, Member, Turn, turned_ends,
};
use crate::non_empty::NonEmpty;
use crate::stock::{Stick, StickClass, StickId, StickPiece, StickPlan};
use crate::table::Column;

/// The marks of a job that is cut edge up.
#[derive(Debug, Clone, PartialEq)]
pub struct Marks {
    /// What is cut into the sticks of each class of sticks.
    pub grooves: Column<StickClass, Groove>,
    /// Where the mark of each class of members lies, as its piece lies unturned.
    pub classes: Column<Class, BarMark>,
    /// How far that is from the end it lies near, along the centre line, mm: of a groove its middle, of a
    /// cross a good place.
    pub places: Column<Class, f64>,
    /// Where the mark of each member lies in the panel.
    pub members: Column<Member, BarMark>,
    /// The mark of each piece of each stick, in the order of the pieces.
    pub pieces: Column<Stick, Vec<PieceMark>>,
}

/// The mark that is cut into all sticks of a class. Lengths are mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Groove {
    /// Its middle, from the datum end along the centre line.
    pub at: f64,
    /// Across itself.
    pub width: f64,
    /// From the stick's axis, degrees.
    pub angle_deg: f64,
    /// How far it reaches along the stick from its middle, over the whole face.
    pub half: f64,
    /// In which edges.
    pub edges: MarkEdges,
}

/// The mark of a piece of a stick.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PieceMark {
    /// Where it lies as the piece lies in its stick: the first end is that towards the datum end.
    pub mark: BarMark,
    /// What makes it.
    pub made: MarkMade,
}

/// What makes the mark of a piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MarkMade {
    /// The groove that its clamping cuts.
    Cut,
    /// A cross in pencil.
    Pencil,
    /// A cross in pencil, for its groove lies at another place than on other pieces of its class.
    PencilInstead,
}

impl MarkMade {
    /// Word in `job.json` and in lists.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Cut => "cut",
            Self::Pencil => "pencil",
            Self::PencilInstead => "pencil-instead",
        }
    }
}

impl Groove {
    /// What the clampings of a class of sticks cut, in the order of work, where this is its mark.
    #[must_use]
    pub fn of(mark: &Mark, gangs: &NonEmpty<&Gang>) -> Self {
        let cutting = || gangs.iter().filter(|gang| mark.is_cut_by(gang));
        let cut_in = |edge| cutting().any(|g| g.edge == edge);
        let room = &mark.room;
        // The fences of one direction may differ by round-off.
        let angle_deg = cutting().next().map_or(room.fence_deg, |g| g.fence_deg);
        Self {
            at: mark.slot.at,
            width: mark.slot.width,
            angle_deg,
            half: half_run(mark.slot.width, gangs.first().face, angle_deg),
            edges: if cut_in(Edge::Front) && cut_in(Edge::Back) {
                MarkEdges::Both
            } else {
                MarkEdges::One(room.edge)
            },
        }
    }

    /// How it lies on a piece of a stick of this face.
    fn on(&self, piece: &StickPiece, ends: [End; 2], face: f64) -> On {
        let lean = |end: End| match end.shape {
            EndShape::Square => 0.0,
            EndShape::Skew | EndShape::Point => 0.5 * face * cot_deg(end.angle_deg).abs(),
        };
        let [from, to] = piece.cut;
        let (lo, hi) = (self.at - self.half, self.at + self.half);
        if hi <= from - lean(ends[0]) || lo >= to + lean(ends[1]) {
            On::Off
        } else if lo >= from + lean(ends[0]) && hi <= to - lean(ends[1]) {
            On::Whole
        } else {
            On::Part
        }
    }
}

/// How much of a groove a piece has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum On {
    Off,
    Part,
    Whole,
}

/// A piece of a stick, and the groove on it.
struct Found<'a> {
    piece: &'a StickPiece,
    /// How many sticks hold it so.
    sticks: u32,
    groove: Groove,
    on: On,
}

impl Found<'_> {
    /// Where its groove lies as the class's piece lies unturned, if it can be the mark.
    fn mark(&self) -> Option<BarMark> {
        let mark = BarMark {
            end: BarEnd::First,
            edges: self.groove.edges,
        };
        (self.on == On::Whole).then(|| mark.turned(self.piece.turn))
    }
}

impl Marks {
    /// The grooves alone, of sticks that are cross-cut into nothing: those of a coupon.
    #[must_use]
    pub fn of_comb(sticks: &StickPlan, grooves: Column<StickClass, Groove>) -> Self {
        Self {
            grooves,
            classes: Column::default(),
            places: Column::default(),
            members: Column::default(),
            pieces: sticks.sticks.column(|_, _| Vec::new()),
        }
    }

    /// The pieces of a stick with their marks.
    pub fn of_stick<'a>(
        &'a self,
        sticks: &'a StickPlan,
        stick: StickId,
    ) -> impl Iterator<Item = (&'a StickPiece, &'a PieceMark)> {
        // There is one for each piece.
        sticks.sticks[stick].pieces.iter().zip(&self.pieces[stick])
    }

    /// The marks of all bars; `grooves` are what is cut into the sticks of each class.
    #[must_use]
    pub fn of(lattice: &Lattice, sticks: &StickPlan, grooves: Column<StickClass, Groove>) -> Self {
        let found = sticks.sticks.column(|_, stick| {
            let (groove, face) = (grooves[stick.class], sticks.classes[stick.class].face[1]);
            let one = |piece| Found {
                piece,
                sticks: stick.count + stick.spares,
                groove,
                on: groove.on(
                    piece,
                    turned_ends(lattice.classes[piece.class].ends, piece.turn),
                    face,
                ),
            };
            stick.pieces.iter().map(one).collect::<Vec<Found<'_>>>()
        });
        let all: Vec<&Found<'_>> = found.iter().flatten().collect();
        let mut of_class = lattice.classes.column(|_, _| Vec::new());
        for &f in &all {
            of_class[f.piece.class].push(f);
        }
        let classes = lattice
            .classes
            .column(|c, class| class_mark(lattice, class, &of_class[c]));
        let places = lattice.classes.column(|c, class| {
            let mark = classes[c];
            let cut = of_class[c].iter().find_map(|f| {
                let counts = f.mark().is_some_and(|own| agrees(class, own, mark));
                counts.then_some(f.groove.at - f.piece.cut[0])
            });
            cut.unwrap_or_else(|| good_place(lattice, class, mark))
        });
        let members = lattice
            .members
            .column(|_, m| classes[m.class].turned(m.turn));
        let pieces = found.column(|_, pieces| {
            let marks = pieces.iter().map(|f| {
                let c = f.piece.class;
                piece_mark(&lattice.classes[c], classes[c], f)
            });
            marks.collect()
        });
        Self {
            grooves,
            classes,
            places,
            members,
            pieces,
        }
    }
}

/// A mark at the first end, in front.
const FRONT: BarMark = BarMark {
    end: BarEnd::First,
    edges: MarkEdges::One(Edge::Front),
};

/// Whether a bar of this class with its mark here is one with its mark there, turned so that nothing else
/// changes.
fn agrees(class: &Class, here: BarMark, there: BarMark) -> bool {
    let same = |turn: &Turn| here.turned(*turn) == there;
    Turn::ALL.iter().any(|t| same(t) && class.is_alike(*t))
}

/// Where the mark of a class lies: where the groove lies on most of its pieces; without any where most of
/// its members show it, in front.
fn class_mark(lattice: &Lattice, class: &Class, pieces: &[&Found<'_>]) -> BarMark {
    let alike_over = class.is_alike(Turn::Over);
    // A mark in both edges does not tell front from back.
    let tells = |mark: &BarMark| mark.edges != MarkEdges::Both || alike_over;
    let mut best: Option<(u64, BarMark)> = None;
    for mark in pieces.iter().filter_map(|f| f.mark()).filter(tells) {
        let counted = pieces
            .iter()
            .filter(|f| f.mark().is_some_and(|own| agrees(class, own, mark)));
        let sticks = counted.map(|f| u64::from(f.sticks)).sum();
        if best.is_none_or(|(most, _)| sticks > most) {
            best = Some((sticks, mark));
        }
    }
    if let Some((_, mark)) = best {
        return mark;
    }
    if alike_over {
        return BarMark {
            edges: MarkEdges::Both,
            ..FRONT
        };
    }
    let shown = |mark: BarMark| {
        let members = class.members.iter().map(|&m| &lattice.members[m]);
        let front = members.filter(|m| mark.turned(m.turn).edges.has(Edge::Front));
        front.count()
    };
    let back = FRONT.turned(Turn::Over);
    if shown(back) > shown(FRONT) {
        back
    } else {
        FRONT
    }
}

/// The mark of a piece of a class whose mark is this.
fn piece_mark(class: &Class, mark: BarMark, found: &Found<'_>) -> PieceMark {
    let turn = found.piece.turn;
    match found.mark() {
        Some(own) if agrees(class, own, mark) => PieceMark {
            mark: own.turned(turn),
            made: MarkMade::Cut,
        },
        _ => PieceMark {
            mark: mark.turned(turn),
            made: match found.on {
                On::Off => MarkMade::Pencil,
                On::Part | On::Whole => MarkMade::PencilInstead,
            },
        },
    }
}

/// How far into a free stretch of an edge a cross is drawn at most, mm.
const INTO: f64 = 6.0;
/// Shorter stretches are passed over where there are longer ones, mm.
const FREE: f64 = 4.0;
/// Less is not worth aiming at, mm.
const AIMED_AT: f64 = 2.0;

/// A place for a cross, mm from this end: in the first stretch of its edges without notches; and in what is
/// trimmed away, where that is enough of it.
fn good_place(lattice: &Lattice, class: &Class, mark: BarMark) -> f64 {
    let members = class.members.iter().map(|&m| &lattice.members[m]);
    let [_, face] = lattice.faces[lattice.members[class.first].family];
    let from = |at: f64| match mark.end {
        BarEnd::First => at,
        BarEnd::Last => class.length - at,
    };
    let own = class.notches.iter().filter(|n| mark.edges.has(n.edge));
    let mut notches: Vec<[f64; 2]> = own
        .map(|n| {
            let half = half_run(n.width, face, n.angle_deg);
            [from(n.at) - half, from(n.at) + half]
        })
        .collect();
    notches.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let ends = notches.into_iter().chain([[class.length; 2]]);
    let mut begin = 0.0;
    let free = ends.map(|[lo, hi]| {
        let stretch = [begin, lo];
        begin = f64::max(begin, hi);
        stretch
    });
    let near = free.filter(|[lo, _]| *lo < 0.5 * class.length);
    let near: Vec<[f64; 2]> = near.collect();
    let long = |[lo, hi]: &[f64; 2]| hi - lo;
    let first = near.iter().find(|f| long(f) >= FREE);
    let best = first.or_else(|| near.iter().max_by(|a, b| long(a).total_cmp(&long(b))));
    // The first stretch begins at the end itself.
    let [lo, hi] = *best.expect("a stretch that begins in the near half");
    let trimmed = members.map(|m| {
        let (lo, hi) = lattice.kept_span(m);
        match (mark.end == BarEnd::First) != m.turn.swaps_ends() {
            true => lo - m.from,
            false => m.to - hi,
        }
    });
    let trimmed = trimmed.fold(f64::INFINITY, f64::min);
    let hi = match trimmed {
        t if t >= lo + AIMED_AT => hi.min(t),
        _ => hi,
    };
    // At most half of the bar, so that it lies near the end that is told.
    (lo + (0.5 * (hi - lo)).min(INTO)).min(0.45 * class.length)
}
