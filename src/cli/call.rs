//! The words of a call: verbs and options, each with an example and what its exit status says.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand};
use lapwright::job::Edited;
use lapwright::panel::CutterKind;
use lapwright::setup::CouponKind;

use super::fit::FitArgs;
use super::length;

/// Examples of a verb, and the exit statuses that all verbs have.
macro_rules! after {
    ($($example:literal),+) => {
        concat!(
            "Examples:\n",
            $("  ", $example, "\n",)+
            "\nExit status: 0 done; 1 a check or the proof failed, and nothing was written; 2 the input or the call is \
             wrong; 3 the system refused."
        )
    };
}

/// Plans interlocking lattice panels and writes proven cut files.
///
/// A folder is put in place as a whole. Where another run is doing that in the same folder above, this one waits
/// for it, says so after a second, and gives up after 30.
#[derive(Debug, Parser)]
#[command(
    name = "lapwright",
    version,
    propagate_version = true,
    disable_help_subcommand = true,
    after_help = after!("lapwright demo", "lapwright new square > first.toml", "lapwright make first.toml --out first")
)]
pub(super) struct Call {
    /// Print the result as JSON, and what is wrong as well.
    #[arg(long, global = true)]
    pub(super) json: bool,
    /// Print no progress, and of a result that is written to files nothing; warnings and what is wrong are printed.
    #[arg(long, short, global = true, conflicts_with = "json")]
    pub(super) quiet: bool,
    #[command(subcommand)]
    pub(super) verb: Verb,
}

#[derive(Debug, Subcommand)]
pub(super) enum Verb {
    /// Make all files of a panel in a folder.
    #[command(after_help = after!("lapwright make first.toml --out first", "lapwright new square | lapwright make - --out first"))]
    Make {
        /// The panel file; `-` reads it from standard input, and the files that it names are looked for in the
        /// current folder.
        panel: PathBuf,
        /// The folder, which is replaced as a whole. A run that is doing that beside it is waited for, 30 seconds
        /// at most.
        #[arg(long, value_name = "DIR")]
        out: PathBuf,
        #[command(flatten)]
        replace: Replace,
    },
    /// Run all checks and the dry fit; write nothing.
    #[command(after_help = after!("lapwright check first.toml", "lapwright check first.toml --json"))]
    Check {
        /// The panel file, or `-`.
        panel: PathBuf,
    },
    /// Prove a folder from disk alone.
    #[command(after_help = after!("lapwright prove first"))]
    Prove {
        /// The folder that `make` wrote.
        dir: PathBuf,
    },
    /// Find sizes that fit an opening, or make one of them a panel file.
    #[command(after_help = after!(
        "lapwright fit three-way --opening 600x400 --gap 2",
        "lapwright fit first.toml --opening \"23 5/8 x 15 3/4 in\" --pick 2 --write fitted.toml"
    ))]
    Fit(FitArgs),
    /// Make a coupon: a comb of notches, and bars to try in them.
    #[command(after_help = after!("lapwright coupon first.toml --out comb", "lapwright coupon first.toml --kind fit --out comb"))]
    Coupon {
        /// A panel file, or `-`: its machine, material, stock and post-processor are used.
        panel: PathBuf,
        /// What it measures: the width of the cut, or the clearance that joints should have.
        #[arg(long, value_enum, default_value = "kerf")]
        kind: Kind,
        /// The folder, which is replaced as a whole.
        #[arg(long, value_name = "DIR")]
        out: PathBuf,
        #[command(flatten)]
        replace: Replace,
    },
    /// Work out what a coupon says that has been cut and tried, and write it down.
    #[command(after_help = after!("lapwright read-coupon comb --notch 7 --underside 9 --into my-card.toml"))]
    ReadCoupon {
        /// The folder that `coupon` wrote.
        dir: PathBuf,
        /// Kerf: the first notch from notch 1 on that a bar presses into by hand. Fit: the narrowest that
        /// a bar slides into with hand pressure.
        #[arg(long, value_name = "NUMBER")]
        notch: usize,
        /// Kerf of a laser: the same tried at the underside of the comb.
        #[arg(long, value_name = "NUMBER")]
        underside: Option<usize>,
        /// Fit: the widest notch that a bar binds in.
        #[arg(long, value_name = "NUMBER")]
        binds: Option<usize>,
        /// What the bar measures where it was tried; else the material file's thickness.
        #[arg(long, value_name = "MM", value_parser = length)]
        bar: Option<f64>,
        /// Your own file to write the result into: material (kerf of a laser), machine (cutter) or panel
        /// (fit).
        #[arg(long, value_name = "FILE")]
        into: Option<PathBuf>,
    },
    /// Print a built-in file, to copy and change; without a name, list them.
    #[command(after_help = after!("lapwright show", "lapwright show card-1.5 > my-card.toml"))]
    Show {
        /// Its name.
        name: Option<String>,
    },
    /// Print a commented panel file to start from; without a layout, list them.
    #[command(after_help = after!("lapwright new", "lapwright new three-way > first.toml", "lapwright new square --for router > first.toml"))]
    New {
        /// The layout.
        layout: Option<String>,
        /// What will cut the panel.
        #[arg(
            long = "for",
            value_name = "CUTTER",
            value_enum,
            default_value = "laser"
        )]
        cutter: Cutter,
    },
    /// Print a page of the guide, or the help of a verb; without a word, list both.
    #[command(after_help = after!("lapwright help", "lapwright help coupons", "lapwright help make"))]
    Help {
        /// A verb, or a page of the guide.
        topic: Option<String>,
    },
    /// Print a script that completes words of this program in a shell.
    #[command(after_help = after!("lapwright completions bash > ~/.local/share/bash-completion/completions/lapwright"))]
    Completions {
        /// The shell.
        shell: clap_complete::Shell,
    },
    /// Print a page for `man`: of the program, or of one verb.
    #[command(after_help = after!("lapwright man > lapwright.1", "lapwright man make > lapwright-make.1"))]
    Man {
        /// The verb.
        verb: Option<String>,
    },
    /// Print the licences of the program, of its fonts, and of the crates in it.
    #[command(after_help = after!("lapwright licences"))]
    Licences,
    /// Make the embedded panel.
    #[command(after_help = after!("lapwright demo", "lapwright demo --out window"))]
    Demo {
        /// The folder, which is replaced as a whole.
        #[arg(long, value_name = "DIR", default_value = "lapwright-demo")]
        out: PathBuf,
        #[command(flatten)]
        replace: Replace,
    },
}

/// What becomes of a folder that someone has changed.
#[derive(Debug, Clone, Copy, Args)]
pub(super) struct Replace {
    /// Replace the folder even where a file of it was edited since it was made.
    #[arg(long)]
    replace: bool,
}

impl From<Replace> for Edited {
    fn from(Replace { replace }: Replace) -> Self {
        if replace { Self::Replaced } else { Self::Kept }
    }
}

/// What cuts a panel.
#[derive(Debug, Clone, Copy, clap::ValueEnum)]
pub(super) enum Cutter {
    /// A laser, in card.
    Laser,
    /// A router, in plywood.
    Router,
    /// Someone else's machine, from DXF files alone.
    Dxf,
}

impl From<Cutter> for CutterKind {
    fn from(cutter: Cutter) -> Self {
        match cutter {
            Cutter::Laser => Self::Laser,
            Cutter::Router => Self::Router,
            Cutter::Dxf => Self::Elsewhere,
        }
    }
}

/// Which coupon.
#[derive(Debug, Clone, Copy, clap::ValueEnum)]
pub(super) enum Kind {
    /// Kerf, or what a cutter really cuts.
    Kerf,
    /// The clearance of joints.
    Fit,
}

impl From<Kind> for CouponKind {
    fn from(kind: Kind) -> Self {
        match kind {
            Kind::Kerf => Self::Kerf,
            Kind::Fit => Self::Fit,
        }
    }
}
