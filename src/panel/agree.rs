//! What must agree between the files of a job: one head throughout, materials that may go under it, and of a cut that is
//! made elsewhere what drawings alone can be asked for.

use super::fault::Fault;
use super::read_panel::PanelDraft;
use super::{
    CutBy, CutWidth, Elsewhere, FileText, HeadKind, Machine, Material, Method, Post, Relief,
};

/// What is wrong with the panel file, told at its keys.
pub(super) struct PanelFaults<'a> {
    pub(super) text: &'a FileText,
    /// Whether the file could not be taken apart, so that its key names are not to be trusted.
    pub(super) broken: bool,
    pub(super) list: Vec<Fault>,
}

impl PanelFaults<'_> {
    pub(super) fn add(&mut self, key: &str, message: String, hint: String) {
        if self.broken {
            return;
        }
        let fault = Fault::new(self.text.file.as_str(), self.text.span(key), message);
        self.list.push(if hint.is_empty() {
            fault
        } else {
            fault.with_hint(hint)
        });
    }
}

/// How inside corners are relieved where the panel file does not say: after a cutter, whose round is large.
pub(super) fn usual_relief(cut_by: &CutBy) -> Relief {
    match cut_by {
        CutBy::Own(own) => match own.machine.head {
            HeadKind::Laser(_) => Relief::None,
            HeadKind::Router(_) => Relief::Floor,
        },
        CutBy::Elsewhere(elsewhere) => match elsewhere.width {
            Some(CutWidth::Tool(_)) => Relief::Floor,
            Some(CutWidth::Kerf(_)) | None => Relief::None,
        },
    }
}

/// What must agree between the files: one head throughout.
pub(super) fn agree(
    draft: &PanelDraft,
    machine: &Machine,
    post: Option<&Post>,
    faults: &mut PanelFaults<'_>,
) {
    let laser = matches!(machine.head, HeadKind::Laser(_));
    let head = |laser: bool| if laser { "laser" } else { "router" };
    if let Some(post) = post
        && post.gcode.drives_laser != laser
    {
        let message = format!(
            "\"{}\" drives a {}, but the machine is a {}",
            post.name,
            head(!laser),
            head(laser)
        );
        faults.add(
            "post_processor",
            message,
            format!("name a post-processor that drives a {}", head(laser)),
        );
    }
    if laser && draft.panel.cut.method == Method::EdgeUp {
        let message = format!(
            "edge-up cutting needs a router, but \"{}\" is a laser",
            machine.name
        );
        faults.add(
            "cut.method",
            message,
            "write method = \"flat\", or name a router".to_owned(),
        );
    }
}

/// Whether a material may go under the machine's head, told at the key that names it.
pub(super) fn clears(
    key: &str,
    material: &Material,
    machine: &Machine,
    faults: &mut PanelFaults<'_>,
) {
    let laser = matches!(machine.head, HeadKind::Laser(_));
    match (&material.laser_refused, laser) {
        (Some(reason), true) => faults.add(
            key,
            format!("\"{}\" must not be lasered: {reason}", material.name),
            "cut it by other means, or choose a material that is cleared".to_owned(),
        ),
        (None, true) if material.laser.is_none() => faults.add(
            key,
            format!("\"{}\" is not cleared for a laser", material.name),
            "no unknown material under a beam: choose one whose file has [laser]".to_owned(),
        ),
        (_, false) if material.router.is_none() => faults.add(
            key,
            format!("\"{}\" has no [router] values", material.name),
            "choose a material whose file has [router], or add them".to_owned(),
        ),
        _ => {}
    }
}

/// What drawings alone can be asked for.
pub(super) fn from_drawings(
    draft: &PanelDraft,
    elsewhere: &Elsewhere,
    faults: &mut PanelFaults<'_>,
) {
    let cut = &draft.panel.cut;
    if cut.method == Method::EdgeUp {
        faults.add(
            "cut.method",
            "bars are cut edge up by G-code alone, which is not written for a machine elsewhere".to_owned(),
            "write method = \"flat\", or name a machine and a post-processor in place of [elsewhere]".to_owned(),
        );
    }
    if elsewhere.width.is_some() {
        return;
    }
    let hint = "add kerf or tool_diameter to [elsewhere]";
    if draft.asks_compensated {
        let message =
            "nothing says what to compensate for: [elsewhere] has neither kerf nor tool_diameter";
        faults.add(
            "cut.dxf",
            message.to_owned(),
            format!("write dxf = \"drawn\", or {hint}"),
        );
    }
    if draft.relief.is_some_and(|relief| relief != Relief::None) {
        let message = "nothing says how large a round is to be relieved: [elsewhere] has neither kerf nor tool_diameter";
        faults.add(
            "cut.relief",
            message.to_owned(),
            format!("write relief = \"none\", or {hint}"),
        );
    }
}

/// Whether a material may go under a beam, where a kerf says that there is one, told at the key that names it.
pub(super) fn takes_a_beam(
    key: &str,
    material: &Material,
    elsewhere: &Elsewhere,
    faults: &mut PanelFaults<'_>,
) {
    if let (Some(reason), Some(CutWidth::Kerf(_))) = (&material.laser_refused, elsewhere.width) {
        faults.add(
            key,
            format!(
                "\"{}\" must not be lasered: {reason}; and a kerf is a beam's",
                material.name
            ),
            "choose a material that is cleared, or say tool_diameter where a cutter cuts it"
                .to_owned(),
        );
    }
}
