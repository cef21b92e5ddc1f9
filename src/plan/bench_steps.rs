//! What the maker does at the bench in edge-up cutting, in words: one list of numbered steps for the whole job,
//! the same on the sheet, in the pictures and in the programs.

use super::edge_plan::{BedRun, Clamping, ClampingId, EdgePlan};
use super::room::air_run_step;
use crate::document::{Numbers, degrees};
use crate::setup::{Comb, Corner, FENCE_PAST, Gang, LEAST_RAIL, Load, MarkOn, PROUD, same_fence};
use crate::table::Column;

/// All steps of edge-up cutting, in order. Numbers run on from the first list to the last.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct BenchSteps {
    /// Before the first clamping: the bed and the zero.
    pub(crate) before: Vec<String>,
    /// Of each clamping, in the order of work.
    pub(crate) clampings: Column<Clamping, Vec<String>>,
}

impl BenchSteps {
    /// The steps of a job; lengths as `n` writes them.
    pub(crate) fn of(plan: &EdgePlan, comb: Option<&Comb>, n: Numbers) -> Self {
        let words = Words { plan, comb, n };
        Self {
            before: vec![words.bed(), words.zero()],
            clampings: plan.clampings.column(|id, _| words.clamping(id)),
        }
    }

    /// The number of the first step of a clamping.
    pub(crate) fn first_of(&self, clamping: ClampingId) -> usize {
        let earlier = self.clampings.entries().filter(|(id, _)| *id < clamping);
        1 + self.before.len() + earlier.map(|(_, steps)| steps.len()).sum::<usize>()
    }

    /// The steps of a clamping, each with its number before it.
    pub(crate) fn numbered(&self, clamping: ClampingId) -> impl Iterator<Item = String> + '_ {
        (self.first_of(clamping)..)
            .zip(&self.clampings[clamping])
            .map(|(number, step)| format!("step {number}: {step}"))
    }
}

/// How to go on after a stop: for the sheet.
pub(crate) fn after_a_stop(n: Numbers) -> Vec<String> {
    vec![
        format!(
            "Steps or power lost, or the machine homed: the zero is lost with them, z too. Take the sticks out in \
             order. Touch z again on the board with the gauge. Set x and y by eye at the old corner of fence and rail, then {} into the fence and {} into the \
             rail. Shade both faces and mill the datum again, put the sticks back in the same order, let the air run go round, and run \
             the slots from the beginning: cuts that are there already are met again. Never touch off on the faces \
             by hand.",
            n.fine_with_unit(0.8),
            n.fine_with_unit(0.3)
        ),
        "A cutter broken or changed: touch z again on the board with the gauge, x and y never. A new cutter is \
         measured as the old one was; where its diameter differs, put it into the machine file and make the job \
         again. Run the program from the beginning."
            .to_owned(),
        "Stopped in the middle with the zero kept: raise the cutter, see that no stick has moved, and run the \
         program from the beginning."
            .to_owned(),
        "A stick that moved, chipped or was laid wrongly is left out and replaced by a spare: it then needs every \
         clamping from the first on."
            .to_owned(),
    ]
}

/// The words for the steps of one job.
pub(crate) struct Words<'a> {
    pub(crate) plan: &'a EdgePlan,
    pub(crate) comb: Option<&'a Comb>,
    pub(crate) n: Numbers,
}

impl Words<'_> {
    fn bed(&self) -> String {
        let n = self.n;
        let Some(BedRun { bed, program }) = &self.plan.bed else {
            return "Bed: a board that holds screws, fast on the table of the machine, and planed by this machine \
                    since it was put there; `bed` in [sticks] of the panel file adds a program that does it. \
                    Brush it off."
                .to_owned();
        };
        format!(
            "Bed: screw a board that holds screws onto the table of the machine. Set x and y as in the next step, once \
             for both, and z on the board's highest place; run gcode/air-run-{stem}.nc, then gcode/{stem}.nc. It \
             planes {} off, x {} to {}, y {} to {}. Brush it off, and touch z again on the planed board: the z before it \
             is wrong from now on.",
            n.fine_with_unit(bed.depth),
            n.rough(bed.rect.x0),
            n.rough_with_unit(bed.rect.x1),
            n.rough(bed.rect.y0),
            n.rough_with_unit(bed.rect.y1),
            stem = program.stem,
        )
    }

    pub(crate) fn zero(&self) -> String {
        let n = self.n;
        let [left, right, front, behind] = zero_room(self.plan).map(|mm| n.rough_with_unit(mm));
        let board = self.plan.board;
        format!(
            "Zero: set x and y once for the whole job, where the centre of the cutter can go {left} to the left, \
             {right} to the right, {front} to the front, towards you at -y, and {behind} to the back of it. The board \
             under battens and sticks must reach from x {} to {} and from y {} to {}. z is 0 on the board under \
             the sticks: touch it there with a gauge of known thickness, and again after every change of the cutter. \
             Never set x and y again, and never zero on top of the sticks.",
            n.rough(board.x0),
            n.rough_with_unit(board.x1),
            n.rough(board.y0),
            n.rough_with_unit(board.y1)
        )
    }

    /// The steps of one clamping.
    fn clamping(&self, id: ClampingId) -> Vec<String> {
        let plan = self.plan;
        let clamping = &plan.clampings[id];
        let gang = &clamping.gang;
        let (datum, slots) = (plan.datum_of(id), plan.slots_of(id));
        let radius = slots.program.head.radius();
        let mut steps = Vec::new();
        if clamping.fresh {
            steps.push(self.battens(&datum.corner, clamping));
            steps.push(air_run_step(&datum.program.stem));
            steps.push(format!(
                "Datum: run gcode/{}.nc. It mills both faces. No pencil may be left on either, and no chip \
                 beside them; where some is left, the batten stood back too far: put it up again, and run the \
                 program again. The zero stays. Neither batten is moved until clamping {} is cut.",
                datum.program.stem,
                plan.datum_until(clamping)
            ));
        } else {
            steps.push(format!(
                "Fence and reference rail stay as they are from the clamping before, at {} degrees. Brush them.",
                degrees(gang.fence_deg)
            ));
        }
        steps.push(placing(plan, clamping));
        steps.push(self.second_rail(gang, radius));
        steps.push(self.holds(gang));
        steps.push(self.seated(gang));
        steps.extend(self.mark(clamping));
        steps.push(air_run_step(&slots.program.stem));
        let loads = match gang.loads.len() {
            1 => String::new(),
            loads => format!(
                " once. Then take this load out in order, and do the steps from the laying of the sticks on anew for \
                 each of the {loads} loads"
            ),
        };
        steps.push(format!(
            "Slots: run gcode/{}.nc{loads}. {} slots, the deepest floor {} above the bed.",
            slots.program.stem,
            gang.slots.len(),
            self.n.fine_with_unit(gang.deepest())
        ));
        steps
    }

    /// Both battens, set by the cutter.
    pub(crate) fn battens(&self, corner: &Corner, clamping: &Clamping) -> String {
        let n = self.n;
        let at =
            |p: crate::geom::Point| format!("x {} y {} {}", n.fine(p.x), n.fine(p.y), n.unit());
        let [[a, b], [c, d]] = corner.touches().map(|both| both.map(at));
        let before = self.plan.before(clamping);
        if before.is_some_and(|c| same_fence(c.gang.fence_deg, corner.fence_deg)) {
            return format!(
                "Rail: too many slots run into the reference rail. Put a fresh one in its place, {} high and at least \
                 {} wide, along x from {} to {}, pushed against the cutter at A {a} and at B {b} with the spindle \
                 off and its supply cut. The fence and the zero stay. Shade the face of the rail with a pencil.",
                n.fine_with_unit(corner.height),
                n.rough_with_unit(corner.thick.max(LEAST_RAIL)),
                n.rough(corner.rail[0]),
                n.rough_with_unit(corner.rail_to),
            );
        }
        let old = match before {
            None => "",
            Some(_) => "Take the old battens off; the zero stays. ",
        };
        let (stands, gang) = sides(corner.side());
        format!(
            "Battens: {old}Two straight ones, {high} high and at least {wide} wide. The reference rail stands \
             {stands} the zero, along x from {} to {} or farther, and the gang will lie {gang} it. The fence stands at {deg} \
             degrees: its end lies {past} to {most} past y = 0 on the side of the rail, and the other end at least {} from \
             zero along it. Spindle off and \
             its supply cut, jog the centre of the cutter beside each batten, its tip just above the board and a flute turned towards the batten, push the batten against the cutter and \
             screw it down: the rail at A {a} and at B {b}, the fence at C {c} and at D {d}. Each then stands {proud} proud of its face. \
             Screws every {screw} to {far}, heads sunk, at least {sunk} from the face and clear of slots. Shade both \
             faces with a pencil.",
            n.rough(corner.rail[0]),
            n.rough_with_unit(corner.rail_to),
            n.rough_with_unit(corner.fence_to),
            high = n.fine_with_unit(corner.height),
            wide = n.rough_with_unit(corner.thick.max(LEAST_RAIL)),
            deg = degrees(corner.fence_deg),
            past = n.fine_with_unit(FENCE_PAST[0]),
            most = n.fine_with_unit(FENCE_PAST[1]),
            proud = n.fine_with_unit(PROUD),
            screw = n.rough_with_unit(100.0),
            far = n.rough_with_unit(150.0),
            sunk = n.rough_with_unit(8.0),
        )
    }

    fn second_rail(&self, gang: &Gang, radius: f64) -> String {
        let n = self.n;
        let rail = gang.rails(radius)[1];
        format!(
            "Second rail: {high} high and at least {wide} wide, fresh or shifted so that the cuts meet whole wood, \
             along x from {} to {} or farther, its inner face against the gang, near y {}, good to {}. Tighten it \
             with fingers only. Push each stick home against the fence by its far end, then tighten the rail evenly, so \
             that it can still be pressed against the gang.",
            n.rough(rail.x0),
            n.rough_with_unit(rail.x1),
            n.rough_with_unit(gang.second_face()),
            n.rough_with_unit(1.0),
            high = n.fine_with_unit(gang.batten),
            wide = n.rough_with_unit(gang.rail),
        )
    }

    /// The bars that hold the gang down, and the pressure from the side.
    fn holds(&self, gang: &Gang) -> String {
        let n = self.n;
        let holds: Vec<String> = (1..)
            .zip(gang.holds())
            .map(|(k, hold)| {
                let [from, to] = hold.map(|d| gang.along_rails(d));
                format!(
                    "bar {k} at x {} to {} on the reference rail and {} to {} on the second",
                    n.len(from[0]),
                    n.len(to[0]),
                    n.len(from[1]),
                    n.len(to[1])
                )
            })
            .collect();
        format!(
            "Holds: bars {} wide on cork or rubber, across the gang along the slots, each screwed or clamped over \
             both rails so that it bears on the sticks: {}. These x are those at the inner faces of the rails, where \
             they touch the gang at y 0 and y {}, not at their outer edges. Nothing stands higher than {} over the \
             sticks. Last, press the second rail against the gang, evenly, with 200 to 300 N: wedges between it and \
             blocks screwed to the board.",
            n.rough_with_unit(gang.hold),
            holds.join("; "),
            n.len(gang.second_face()),
            n.fine_with_unit(self.plan.head.router.clamp_height)
        )
    }

    /// How the seating is checked.
    fn seated(&self, gang: &Gang) -> String {
        let n = self.n;
        let count = gang.sticks() as f64;
        let paper = self.plan.head.router.seating;
        let wide = if gang.spread > 0.0 {
            format!(
                "between {} and {}",
                n.fine(count * (gang.face - gang.spread)),
                n.fine_with_unit(count * gang.face)
            )
        } else {
            n.fine_with_unit(count * gang.face)
        };
        format!(
            "Check: no paper {} thick passes between any datum end and the fence, no stick moves by finger, and the \
             gang is {wide} wide without its rails. Else loosen, brush, and seat it again.",
            n.fine_with_unit(paper)
        )
    }

    /// What the mark tells, where this clamping cuts it.
    fn mark(&self, Clamping { class, gang, .. }: &Clamping) -> Option<String> {
        gang.mark.as_ref()?;
        let bench = &self.plan.benches[*class];
        let room = &bench.mark.room;
        let on = match room.on {
            _ if self.comb.is_some() => "Notch 1 is next to it.",
            MarkOn::Trimmed => {
                "It lies on the first piece of every stick, where it is trimmed away after glue-up. \
                 sticks.csv tells which other pieces get a pencilled cross, and where, before cross-cutting."
            }
            MarkOn::CutOff => {
                "It lies where nothing is kept: sticks.csv tells which pieces get a pencilled cross, and \
                 where, before cross-cutting."
            }
            MarkOn::BackEdge => {
                "It stays on the first piece of every stick, in the edge that goes to the back of the \
                 panel. sticks.csv tells which other pieces get a pencilled cross, and where, before \
                 cross-cutting."
            }
        };
        let shows = if room.on != MarkOn::BackEdge && bench.stick.alike_over() {
            "the datum end; both edges are alike".to_owned()
        } else {
            format!("the {} edge and the datum end", gang.edge.word())
        };
        Some(format!(
            "Mark: the program first cuts a mark across all sticks: it shows {shows}. {on}"
        ))
    }
}

/// How far the programs of a job take the cutter's centre from the zero: to the left, to the right, to the front
/// and to the back, mm.
pub(crate) fn zero_room(plan: &EdgePlan) -> [f64; 4] {
    let ([left, right], [front, back]) = (plan.path.needs(0), plan.path.needs(1));
    [left, right, front, back]
}

/// Where the reference rail stands, and where the gang lies beside it, in words.
pub(crate) fn sides(side: f64) -> (&'static str, &'static str) {
    if side > 0.0 {
        ("in front of", "behind")
    } else {
        ("behind", "in front of")
    }
}

/// How a coupon is read, after its clamping; nothing for a panel.
pub(crate) fn reading_steps(comb: Option<&Comb>, n: Numbers) -> Vec<String> {
    let Some(comb) = comb else {
        return Vec::new();
    };
    let lines = comb.how_to_read().into_iter();
    std::iter::once(format!("Read {}.", comb.notches_in_words(n)))
        .chain(lines.map(|line| format!("Read: {line}.")))
        .collect()
}

/// How the sticks lie.
fn placing(plan: &EdgePlan, clamping: &Clamping) -> String {
    let (bench, gang) = (&plan.benches[clamping.class], &clamping.gang);
    let earlier = bench.clampings.iter().map(|&id| &plan.clampings[id]);
    let earlier = earlier.take_while(|c| c.number < clamping.number);
    let earlier: Vec<&Gang> = earlier.map(|c| &c.gang).collect();
    let edge = gang.edge.word();
    let turned = match earlier.last() {
        Some(before) if before.edge != gang.edge => {
            " First ease and brush the arrises of the notched edge, and turn each stick over by itself about its \
             long axis, the datum end kept at the fence: never the gang as a block."
        }
        _ => "",
    };
    let known = match earlier.iter().find(|g| g.mark.is_some()) {
        None if earlier.is_empty() => numbering(gang),
        None => String::new(),
        Some(marked) if marked.edge == gang.edge => {
            " The mark is up, at the fence: a stick without it there lies turned.".to_owned()
        }
        Some(_) if bench.stick.alike_over() => " The mark is at the fence.".to_owned(),
        Some(_) => {
            " The mark is underneath, at the fence: a stick that shows it lies turned.".to_owned()
        }
    };
    let redrawn = match earlier.last() {
        Some(before) if before.side() != gang.side() => {
            " The gang is reversed, for the rail has changed sides: go by the numbers, and draw the slanting line \
             anew."
        }
        Some(before) if before.edge != gang.edge => {
            " Draw the slanting line on the edge that is up now."
        }
        _ => "",
    };
    let (_, lies) = sides(gang.side());
    format!(
        "Sticks {}: {}{turned} Brush bed, faces and sticks. Lay stick 1 along the reference rail and the others side by \
         side {lies} it, {edge} edge up, each datum end against the fence; tap each down onto the bed.{known}{redrawn}",
        gang.id,
        what_lies(gang),
    )
}

/// How the sticks of a gang are numbered when they are laid for the first time.
fn numbering(gang: &Gang) -> String {
    let number = match gang.loads.len() {
        1 => "Number their far ends from the rail on",
        _ => {
            "Number their far ends by load and place, 2/5 for the fifth from the rail in load 2, and keep every load \
              together through all clampings"
        }
    };
    format!(
        " {number}, and draw a slanting pencil line across the upper edge of the gang: a stick out of order breaks \
         it."
    )
}

/// How many sticks of which kind lie in a gang, load by load.
fn what_lies(gang: &Gang) -> String {
    let seats = || gang.loads.iter().flatten();
    let kept = seats().filter(|seat| seat.is_kept()).count();
    let spares = seats().filter(|seat| seat.is_spare()).count();
    let dummies = match seats().count() - kept - spares {
        0 => String::new(),
        1 => " and a dummy of the same milling".to_owned(),
        n => format!(" and {n} dummies of the same milling"),
    };
    let (spares, outermost) = match spares {
        0 => (String::new(), "these outermost"),
        n => (
            format!(", {n} spare"),
            "the outermost two spares or dummies",
        ),
    };
    let in_loads = match gang.loads.len() {
        1 => String::new(),
        n => {
            let kept = |load: &Load| load.iter().filter(|seat| seat.is_kept()).count();
            let of: Vec<String> = gang.loads.iter().map(|l| kept(l).to_string()).collect();
            format!(
                " In {n} loads of {}, with {} to keep; dummies serve again, and are counted in each.",
                gang.sticks(),
                of.join(", ")
            )
        }
    };
    format!("{kept} to keep{spares}{dummies}, {outermost}.{in_loads}")
}
