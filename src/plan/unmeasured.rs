//! The values that a program is made with: each by name, with a remark where nobody has measured it.

use super::head::{CuttingHead, LaserHead, RouterHead};
use crate::document::Numbers;
use crate::geom::micron;
use crate::panel::{CutBy, CutWidth, HeadKind, JobFiles, Machine, Material, told};

/// A value that a program is made with.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Setting {
    /// Which.
    pub(crate) what: Value,
    /// What it is, by its name: `kerf 0.15 mm`.
    pub(crate) text: String,
    /// Whether nobody has measured it.
    pub(crate) from_memory: bool,
}

/// Which value a setting is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Value {
    /// How thick the stock is.
    Thickness,
    /// How wide beam or tool cut.
    Width,
    /// Feed of the cut.
    Feed,
    /// Feed straight down.
    Plunge,
    /// Speed of the spindle, or power of the beam.
    Speed,
    /// Depth of a pass.
    Pass,
}

impl Setting {
    fn new(what: Value, text: String, from_memory: bool) -> Self {
        Self {
            what,
            text,
            from_memory,
        }
    }

    /// The value, with the remark where nobody has measured it.
    pub(crate) fn told(&self) -> String {
        told(self.from_memory, &self.text)
    }
}

/// The values that programs are made with which cut a material flat.
pub(crate) fn flat_settings(material: &Material, head: &CuttingHead, n: Numbers) -> Vec<Setting> {
    let mut settings = vec![thickness(material, n)];
    match head {
        CuttingHead::Laser(head) => settings.extend(laser(material, head, n)),
        CuttingHead::Router(head) => settings.extend(router(material, head, n)),
        CuttingHead::Elsewhere(cut) => settings.extend(cut.width.map(|width| stated(width, n))),
    }
    settings
}

/// The values that programs of edge-up cutting are made with.
pub(crate) fn edge_settings(files: &JobFiles, head: &RouterHead, n: Numbers) -> Vec<Setting> {
    router(&files.material, head, n).to_vec()
}

fn laser(material: &Material, head: &LaserHead, n: Numbers) -> [Setting; 3] {
    let (of, machine) = (&material.from_memory, &head.own.machine.from_memory);
    // What the power is a percentage of, and the word for it, are the machine's.
    let power = ["laser.power_percent", "laser.watts"].map(|key| of.has(key));
    let scale = ["laser.watts", "laser.full_power_word"].map(|key| machine.has(key));
    let set = &head.set;
    [
        kerf(material, set.kerf, n),
        Setting::new(
            Value::Feed,
            format!("feed {}", n.feed(set.feed)),
            of.has("laser.feed"),
        ),
        Setting::new(
            Value::Speed,
            format!("power {} percent", micron(set.power_percent)),
            power.contains(&true) || scale.contains(&true),
        ),
    ]
}

fn router(material: &Material, head: &RouterHead, n: Numbers) -> [Setting; 5] {
    let of = |key: &str| material.from_memory.has(&format!("router.{key}"));
    let set = &head.set;
    let feed = format!("feed {}", n.feed(set.feed));
    let plunge = format!("plunge {}", n.feed(set.plunge_feed));
    let speed = format!("speed {} rev/min", micron(set.speed_rpm));
    let pass = format!("passes up to {} deep", exact(set.pass_depth, n));
    [
        tool(&head.own.machine, set.diameter, n),
        Setting::new(Value::Feed, feed, of("feed")),
        Setting::new(Value::Plunge, plunge, of("plunge_feed")),
        Setting::new(Value::Speed, speed, of("speed_rpm")),
        Setting::new(Value::Pass, pass, of("pass_depth")),
    ]
}

fn kerf(material: &Material, kerf: f64, n: Numbers) -> Setting {
    Setting {
        from_memory: material.from_memory.has("laser.kerf"),
        ..stated(CutWidth::Kerf(kerf), n)
    }
}

fn tool(machine: &Machine, diameter: f64, n: Numbers) -> Setting {
    let from_memory = machine.from_memory.has("router.tool.diameter");
    Setting {
        from_memory,
        ..stated(CutWidth::Tool(diameter), n)
    }
}

/// The width of a cut, as the panel file states it for a machine elsewhere.
fn stated(width: CutWidth, n: Numbers) -> Setting {
    let text = match width {
        CutWidth::Kerf(kerf) => format!("kerf {}", exact(kerf, n)),
        CutWidth::Tool(diameter) => format!("cutter {} wide", exact(diameter, n)),
    };
    Setting::new(Value::Width, text, false)
}

/// How thick flat stock of a material is.
fn thickness(material: &Material, n: Numbers) -> Setting {
    let text = format!("stock {} thick", exact(material.thickness[1], n));
    Setting::new(
        Value::Thickness,
        text,
        material.from_memory.has("thickness"),
    )
}

/// A length with its unit: millimetres as the file has them.
fn exact(mm: f64, n: Numbers) -> String {
    if n == Numbers::MM {
        format!("{} mm", micron(mm))
    } else {
        n.fine_with_unit(mm)
    }
}

/// What a drawing tells of a material and the cut in it.
pub(crate) fn drawn_settings(files: &JobFiles, material: &Material) -> Vec<Setting> {
    let n = Numbers::MM;
    let cut = match &files.cut_by {
        CutBy::Own(own) => match &own.machine.head {
            HeadKind::Laser(_) => material
                .laser
                .as_ref()
                .map(|cut| kerf(material, cut.kerf, n)),
            HeadKind::Router(router) => Some(tool(&own.machine, router.tool.diameter, n)),
        },
        CutBy::Elsewhere(cut) => cut.width.map(|width| stated(width, n)),
    };
    [thickness(material, n)].into_iter().chain(cut).collect()
}
