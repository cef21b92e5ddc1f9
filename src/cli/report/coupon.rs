//! What `coupon` and `read-coupon` print.

use std::fmt::Write;
use std::path::Path;

use lapwright::document::Numbers;
use lapwright::job::{Made, Reading, Written};
use lapwright::plan::Plan;
use lapwright::safety::Status;
use lapwright::setup::CouponKind;

/// After `coupon`.
pub(in crate::cli) fn coupon(plan: &Plan, made: &Made, dir: &Path) -> String {
    let mut out = String::new();
    let dir = dir.display();
    let Some(comb) = plan.comb() else {
        return out;
    };
    let about = match comb.spec.kind {
        CouponKind::Kerf => format!(
            "for a {} of {:.3} mm",
            if comb.spec.beam { "kerf" } else { "cutter" },
            comb.spec.cut
        ),
        CouponKind::Fit => format!("about a clearance of {:.3} mm", comb.spec.clearance),
    };
    let kind = comb.spec.kind.word();
    let _ = writeln!(
        out,
        "coupon     {kind}: {}, {about}",
        comb.notches_in_words(Numbers::MM)
    );
    for warning in &plan.warnings {
        let _ = writeln!(out, "warning    {warning}");
    }
    let passed = made.checks.iter().filter(|c| c.status == Status::Pass);
    let _ = writeln!(out, "checks     {} passed", passed.count());
    let _ = writeln!(
        out,
        "folder     {dir}: {} files, each cut file proven by replay; numbers in {dir}/coupon.svg",
        made.files.len()
    );
    let mut mark = "read";
    for line in comb.how_to_read() {
        let _ = writeln!(out, "{mark:<11}{line}");
        mark = "";
    }
    let more = match comb.spec.kind {
        CouponKind::Kerf => "",
        CouponKind::Fit => " --binds NUMBER",
    };
    let _ = writeln!(
        out,
        "next       cut it, try it, then `lapwright read-coupon {dir} --notch NUMBER{more}`"
    );
    let _ = writeln!(
        out,
        "before you cut: the cautions at the head of each program, and your machine's manual"
    );
    out
}

/// After `read-coupon`; `written`: the file that was changed, and what it said before; `built_in`: the
/// built-in file that the panel names for the value.
pub(in crate::cli) fn reading(
    r: &Reading,
    written: Option<(&Path, Written)>,
    built_in: Option<&str>,
) -> String {
    let mut out = String::new();
    let holds = match r.binds {
        Some(_) => "takes",
        None => "holds",
    };
    let _ = writeln!(
        out,
        "notch      {}, drawn {:.3} mm, {holds} a bar of {:.3} mm",
        r.notch, r.drawn, r.bar
    );
    let _ = writeln!(
        out,
        "measured   {} = {} mm, to {} mm; the coupon was made with {} mm",
        r.key, r.measured, r.step, r.before
    );
    if r.at_end {
        let _ = writeln!(
            out,
            "note       this is the last notch on its side of the comb, so the true value may lie beyond it: write this one \
             down, and cut a new coupon with it"
        );
    }
    if let (Some(binds), Some([least, most])) = (r.binds, r.limits) {
        let _ = writeln!(
            out,
            "binds      at {binds} mm; the material bears {least} to {most} mm"
        );
    }
    match (r.flare, r.wider_face) {
        (Some(flare), Some(face)) => {
            let _ = writeln!(
                out,
                "flare      laser.flare = {flare} mm: the cut is so much wider at the {face}, where joints \
                 show that gap"
            );
        }
        (Some(_), None) => {
            let _ = writeln!(out, "flare      none: the cut is as wide at both faces");
        }
        _ => {}
    }
    let kind = r.file_kind().word();
    match written {
        Some((
            path,
            Written {
                before,
                flare_before,
            },
        )) => {
            let flare = match (flare_before, r.flare) {
                (Some(before), Some(flare)) => format!(", laser.flare was {before}, is {flare}"),
                _ => String::new(),
            };
            let _ = writeln!(
                out,
                "written    {}: {} was {before}, is {}{flare}, measured and no longer from memory; no other value was changed",
                path.display(),
                r.key,
                r.measured
            );
        }
        None => {
            let copy = built_in.map_or_else(String::new, |name| {
                format!(
                    "; {name} is built in: `lapwright show {name} > my-{name}.toml` and name the copy in \
                     the panel file"
                )
            });
            let _ = writeln!(
                out,
                "next       add `--into FILE` with your own {kind} file to write it there{copy}"
            );
        }
    }
    out
}
