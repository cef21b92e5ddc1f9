//! What a verb prints: a screenful of text.

mod coupon;
mod fit;

use std::fmt::Write;
use std::path::Path;

use lapwright::job::Made;
use lapwright::lattice::{DryFit, Lattice};
use lapwright::plan::Plan;
use lapwright::safety::{Check, CheckId, Status};
use lapwright::stock::StickPlan;
use lapwright::surround::Surround;

pub(super) use coupon::{coupon, reading};
pub(super) use fit::Told;

/// After `make` and `demo`.
pub(super) fn made(plan: &Plan, made: &Made, dir: &Path, demo: bool) -> String {
    let mut out = checked(plan, &made.fit, &made.checks);
    let cut = |ending: &str| made.files.keys().filter(|f| f.ends_with(ending)).count();
    let _ = writeln!(
        out,
        "\nfolder     {}: {} files, {} G-code and {} DXF among them, each of those proven by replay",
        dir.display(),
        made.files.len(),
        cut(".nc"),
        cut(".dxf"),
    );
    let loads: Vec<usize> = (plan.flats())
        .flat_map(|flat| flat.runs().map(|(_, loads)| loads))
        .collect();
    let runs: usize = loads.iter().sum();
    if runs > loads.len() {
        let _ = writeln!(
            out,
            "sheets     {} programs are run {runs} times in all, a new sheet each: those that are cut alike share one",
            loads.len()
        );
    }
    if demo {
        let me = std::env::args_os()
            .next()
            .unwrap_or_else(|| "lapwright".into());
        let _ = writeln!(
            out,
            "next       look at {}/sheet.html, then `{} new square > my-panel.toml`",
            dir.display(),
            me.to_string_lossy()
        );
    }
    if made.files.contains_key("dxf/notes.txt") {
        let _ = writeln!(
            out,
            "send       {} is all that someone who cuts from DXF needs",
            dir.join("dxf").display()
        );
    }
    let cautions = match plan.files.elsewhere() {
        None => "the cautions at the head of each program, and your machine's manual",
        Some(_) => "its cautions, in dxf/notes.txt, are for whoever cuts it",
    };
    let _ = writeln!(out, "before you cut: {cautions}");
    out
}

/// After `check`.
pub(super) fn checked(plan: &Plan, fit: &DryFit, verdicts: &[Check]) -> String {
    let mut out = what_is_made(plan);
    if let Some(edge) = plan.edge_up() {
        out += &sticks(&edge.sticks);
    }
    out += &stock(plan);
    for (at, uncut) in plan.not_cut().iter().enumerate() {
        let head = if at == 0 { "by hand" } else { "" };
        let _ = writeln!(out, "{head:<11}{}", uncut.in_words());
    }
    let _ = writeln!(
        out,
        "dry fit    {:.4} mm3 in common, largest gap {:.3} mm, press {:.3} mm",
        fit.interference_mm3, fit.largest_gap_mm, fit.press_mm
    );
    out + &checks(verdicts)
}

/// The panel, its sizes and its pieces.
fn what_is_made(plan: &Plan) -> String {
    let (lattice, panel) = (plan.lattice(), &plan.files.panel);
    let bounds = lattice.bounds();
    let mut out = String::new();
    let _ = writeln!(
        out,
        "panel      {} ({} to make)",
        panel.name, panel.quantity
    );
    let drawn = plan.panel().map(|p| &p.drawn);
    let framed = drawn
        .and_then(|d| d.surround.as_ref())
        .map(Surround::bounds);
    let framed = framed.map_or_else(String::new, |by| {
        format!(", {:.2} x {:.2} with surround", by.width(), by.height())
    });
    let _ = writeln!(
        out,
        "size       {:.2} x {:.2} mm ground{framed}, {:.2} deep",
        bounds.width(),
        bounds.height(),
        lattice.depth
    );
    let _ = writeln!(
        out,
        "lattice    {} members in {} classes, {} notches, put together in {} groups",
        lattice.members.len(),
        lattice.classes.len(),
        lattice.joint_count(),
        lattice.order.len()
    );
    let quantity = panel.quantity as usize;
    let _ = writeln!(out, "pieces     {}", pieces(lattice, quantity));
    if let Some(ring) = drawn.and_then(|d| d.ring()) {
        let sides = pieces(ring, quantity);
        let _ = writeln!(out, "surround   {sides}, half-lapped, cut among the bars");
    }
    if let Some(infill) = drawn.and_then(|d| d.infill.as_ref()) {
        let _ = writeln!(
            out,
            "infill     {} cells, {} pieces in {} classes",
            infill.cells.len(),
            infill.classes.iter().map(|c| c.count()).sum::<usize>() * quantity,
            infill.classes.len()
        );
    }
    if let Some(kits) = panel.kits {
        let _ = writeln!(
            out,
            "kits       {}, panels in each: {}, spares of each piece: {} in a kit and {} for all",
            panel.kit_count(),
            kits.panels,
            kits.spares,
            kits.common_spares
        );
    }
    out
}

/// The classes of a lattice's bars: how many of each, for all panels, and how long.
fn pieces(lattice: &Lattice, quantity: usize) -> String {
    /// So many classes tell the story.
    const SHOWN: usize = 8;
    let shown = lattice.classes.iter().take(SHOWN).map(|c| {
        let count = c.members.len() * quantity;
        format!("{count} x {} of {:.2} mm", c.id, c.length)
    });
    let shown: Vec<String> = shown.collect();
    let more = if lattice.classes.len() > SHOWN {
        ", ..."
    } else {
        ""
    };
    shown.join(", ") + more
}

/// One line for each nest.
fn stock(plan: &Plan) -> String {
    let bars = plan.edge_up().map(|edge| &edge.nest.count);
    let bars = bars.or(plan.flat().map(|flat| &flat.nest));
    let bars = bars.map(|nest| (nest, &plan.files.stock, String::new()));
    let beside = plan.cuts.beside.iter().map(|flat| {
        let (material, stock) = plan.files.wood(flat.wood);
        let what = format!(", {}, for infill", material.name);
        (&flat.nest, stock, what)
    });
    let mut out = String::new();
    for (nest, stock, what) in bars.into_iter().chain(beside) {
        let bound = if nest.optimal {
            "no fewer will do".to_owned()
        } else {
            format!("{} are proven needed", nest.lower_bound)
        };
        let _ = writeln!(
            out,
            "stock      {} of {}{what}: {bound}",
            nest.used, stock.name
        );
    }
    out
}

/// How many checks came out how, and one of each.
fn checks(checks: &[Check]) -> String {
    let count = |s: Status| checks.iter().filter(|c| c.status == s).count();
    let mut out = String::new();
    let _ = writeln!(
        out,
        "checks     {} passed, {} warned, {} failed",
        count(Status::Pass),
        count(Status::Warn),
        count(Status::Fail)
    );
    for c in one_of_each(checks) {
        let _ = writeln!(
            out,
            "  {:<4} {:<13} {:>9.3}, {:<8} {:>9.3} {:<7} {}",
            c.status.word(),
            c.id,
            tidy3(c.value),
            c.bound.word(),
            tidy3(c.limit),
            c.unit,
            c.place
        );
    }
    out
}

/// One line for each class of sticks.
fn sticks(plan: &StickPlan) -> String {
    /// So many classes tell the story.
    const SHOWN: usize = 8;
    let mut out = String::new();
    for (id, class) in plan.classes.entries().take(SHOWN) {
        let spares = match class.spares {
            0 => String::new(),
            1 => " and 1 spare".to_owned(),
            n => format!(" and {n} spares"),
        };
        let of = plan.of_class(id).map(|(_, stick)| stick);
        let pieces: usize = of.map(|s| s.pieces.len() * s.count as usize).sum();
        let bound = match (class.regular, class.optimal) {
            (true, true) => "the least milled length",
            (true, false) => "the least milled length found",
            (false, _) => "a stick for each member",
        };
        let _ = writeln!(
            out,
            "{:<11}{} x {} of {} joints, {:.2} mm{spares}, for {pieces} members: {bound}",
            if id.index() == 0 { "sticks" } else { "" },
            class.count,
            class.id,
            class.joints,
            class.length,
        );
    }
    if plan.classes.len() > SHOWN {
        let more = plan.classes.len() - SHOWN;
        let _ = writeln!(out, "           and {more} more classes of sticks");
    }
    out
}

/// To three decimals, without a minus nought.
fn tidy3(v: f64) -> f64 {
    lapwright::geom::tidy((v * 1e3).round() / 1e3)
}

/// One check of each id, a warned one before a passed one; replays are told in one line.
fn one_of_each(checks: &[Check]) -> Vec<&Check> {
    let mut shown: Vec<&Check> = Vec::new();
    for c in checks.iter().filter(|c| c.id != CheckId::Replay) {
        match shown.iter_mut().find(|s| s.id == c.id) {
            Some(s) if c.status > s.status => *s = c,
            Some(_) => {}
            None => shown.push(c),
        }
    }
    shown.sort_by(|a, b| b.status.cmp(&a.status).then(a.id.cmp(&b.id)));
    shown
}

/// After `prove`.
pub(super) fn proven(dir: &Path, made: &Made) -> String {
    format!(
        "proven     {}: {} files are what their sources make; every cut file replays true\n",
        dir.display(),
        made.files.len()
    )
}
