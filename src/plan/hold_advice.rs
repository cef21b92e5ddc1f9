//! What the maker is told of bridges and tabs: where they do not stand as asked, and what helps where a piece
//! cannot be held. That is found by planning the job again with one thing changed, so it has been seen to pass.

use std::collections::BTreeSet;
use std::fmt::Display;

use super::error::PlanError;
use super::head::CuttingHead;
use super::whole::Plan;
use crate::geom::SAME_FIGURE;
use crate::panel::{HeadKind, JobFiles, LaserCut, RouterCut};
use crate::path::LEAST_HOLDS;
use crate::safety::{Check, CheckId, MOST_TAB, Status};

/// Checks of what holds a piece.
const HELD: [CheckId; 3] = [CheckId::Bridges, CheckId::HoldForce, CheckId::Tabs];

/// Overhangs that are tried, mm, the shortest first.
const OVERHANGS: [f64; 18] = [
    0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0, 7.0, 8.0, 10.0, 12.0, 15.0, 20.0, 25.0, 30.0,
];
/// Steps in which narrower cutters are tried, mm.
const CUTTERS: f64 = 0.5;

/// Plans a job by `plan`. Where bridges or tabs fail, their checks tell which change of the files passes.
///
/// # Errors
/// Those of `plan`.
pub(super) fn plan_with_advice(
    files: JobFiles,
    mut plan: impl FnMut(JobFiles) -> Result<Plan, PlanError>,
) -> Result<Plan, PlanError> {
    let mut checks = match plan(files.clone()) {
        Err(PlanError::Checks(checks)) => checks,
        other => return other,
    };
    let mut others = failing(&checks);
    let before = others.len();
    others.retain(|id| !HELD.contains(id));
    if others.len() < before {
        let helps = what_helps(&files, |files| match plan(files) {
            Ok(_) => true,
            Err(PlanError::Checks(checks)) => failing(&checks).is_subset(&others),
            Err(_) => false,
        })?;
        for check in checks.iter_mut().filter(|c| HELD.contains(&c.id)) {
            check.helps.clone_from(&helps);
        }
    }
    Err(PlanError::Checks(checks))
}

fn failing(checks: &[Check]) -> BTreeSet<CheckId> {
    let fails = checks.iter().filter(|c| c.status == Status::Fail);
    fails.map(|c| c.id).collect()
}

/// Changes that pass, in words; `None` where none was found.
fn what_helps(
    files: &JobFiles,
    mut passes: impl FnMut(JobFiles) -> bool,
) -> Result<Option<String>, PlanError> {
    let (least, keys) = with_least(files)?;
    let keys: Vec<String> = (keys.iter())
        .map(|(key, value)| format!("`{key} = {value}`"))
        .collect();
    let material = match keys.as_slice() {
        [] => None,
        keys => Some(format!("{} in the material file", keys.join(" and "))),
    };
    if material.is_some() && passes(least.clone()) {
        return Ok(material);
    }
    let mut ways = Vec::new();
    let longer = OVERHANGS.into_iter().find(|&overhang| {
        let mut files = least.clone();
        files.panel.outline.overhang = overhang;
        overhang > least.panel.outline.overhang && passes(files)
    });
    ways.extend(longer.map(|overhang| format!("`overhang = {overhang}` in the panel file")));
    if let Some(HeadKind::Router(router)) = least.own().map(|own| &own.machine.head) {
        let most = (router.tool.diameter / CUTTERS).ceil() as u32;
        let cutters = (1..most).rev().map(|k| f64::from(k) * CUTTERS);
        let narrower = cutters.into_iter().find(|&diameter| {
            let (mut files, mut router) = (least.clone(), router.clone());
            router.tool.diameter = diameter;
            if let Some(own) = files.own_mut() {
                own.machine.head = HeadKind::Router(router);
            }
            passes(files)
        });
        let told = |diameter| format!("a cutter with `diameter = {diameter}` in the machine file");
        ways.extend(narrower.map(told));
    }
    if ways.is_empty() {
        return Ok(None);
    }
    let with = material.map_or_else(String::new, |keys| format!(", with {keys}"));
    Ok(Some(format!("{}{with}", ways.join(", or "))))
}

/// Keys of a material file with their values, each once, the last told last.
type Keys = Vec<(&'static str, String)>;

/// The files with no fewer and no smaller holds than the least, none weaker than the force of the cut, and the keys
/// of the material that this takes.
fn with_least(files: &JobFiles) -> Result<(JobFiles, Keys), PlanError> {
    let mut least = files.clone();
    let mut keys = Keys::new();
    let woods = least.woods.iter_mut().map(|wood| &mut wood.material);
    for material in std::iter::once(&mut least.material).chain(woods) {
        let thickness = material.thickness[0];
        match CuttingHead::of(files, material)? {
            CuttingHead::Laser(mut head) => {
                least_bridges(&mut head.cut, thickness, &mut keys);
                material.laser = Some(head.cut);
            }
            CuttingHead::Router(mut head) => {
                let in_all = head.hold_needs(material).section_in_all();
                least_tabs(&mut head.cut, in_all, thickness, &mut keys);
                material.router = Some(head.cut);
            }
            // Nothing is planned to hold what is cut elsewhere.
            CuttingHead::Elsewhere(_) => {}
        }
    }
    Ok((least, keys))
}

fn least_bridges(cut: &mut LaserCut, thickness: f64, keys: &mut Keys) {
    raise(&mut cut.bridges, "bridges", LEAST_HOLDS, keys);
    let width = cut
        .least_bridge_width
        .max(tenth_up(cut.least_bridge_section / thickness));
    raise(&mut cut.bridge_width, "bridge_width", width, keys);
}

/// `in_all` is the section that the tabs of a piece must have together, mm²; `thickness` the thinnest stock, mm.
fn least_tabs(cut: &mut RouterCut, in_all: f64, thickness: f64, keys: &mut Keys) {
    raise(&mut cut.tabs, "tabs", LEAST_HOLDS, keys);
    raise(&mut cut.tab_width, "tab_width", cut.least_tab_width, keys);
    // As high as a tab may be, in tenths.
    let most = (MOST_TAB * thickness * 10.0 + SAME_FIGURE).floor() / 10.0;
    let each = cut.least_tab_section.max(in_all / f64::from(cut.tabs));
    if cut.tab_height > most && most >= cut.least_tab_height {
        cut.tab_height = most;
        tell("tab_height", most, keys);
    }
    let height = cut.least_tab_height.max(tenth_up(each / cut.tab_width));
    if height <= most {
        raise(&mut cut.tab_height, "tab_height", height, keys);
    } else if most > 0.0 {
        // Higher than a tab may be: wider instead, or as well.
        raise(&mut cut.tab_height, "tab_height", most, keys);
        let width = tenth_up(each / cut.tab_height);
        raise(&mut cut.tab_width, "tab_width", width, keys);
    }
}

/// The next tenth of a millimetre that is no less.
fn tenth_up(length: f64) -> f64 {
    (length * 10.0 - SAME_FIGURE).ceil() / 10.0
}

/// Raises a value to its least, and tells its key.
fn raise<T: PartialOrd + Copy + Display>(
    value: &mut T,
    key: &'static str,
    least: T,
    keys: &mut Keys,
) {
    if *value < least {
        *value = least;
        tell(key, least, keys);
    }
}

/// Tells a key's value, in place of what has been told of it.
fn tell(key: &'static str, value: impl Display, keys: &mut Keys) {
    keys.retain(|(told, _)| *told != key);
    keys.push((key, value.to_string()));
}
