//! The words of a call for shells and for `man`, from the definitions that read it; and the pages of the guide.

use std::fmt::Write;

use clap::{Command, CommandFactory};
use lapwright::job::JobError;

use super::call::Call;

/// A script that completes words in a shell.
pub(super) fn completions(shell: clap_complete::Shell) -> Vec<u8> {
    let mut script = Vec::new();
    let mut call = Call::command();
    let name = call.get_name().to_owned();
    clap_complete::generate(shell, &mut call, name, &mut script);
    script
}

/// The page of the program, or of a verb.
///
/// # Errors
/// There is no such verb.
pub(super) fn man(verb: Option<&str>) -> Result<Vec<u8>, JobError> {
    let call = Call::command();
    let name = call.get_name().to_owned();
    let page = match verb {
        None => call,
        Some(verb) => {
            let of = call.find_subcommand(verb).cloned();
            let of = of.ok_or_else(|| {
                let all: Vec<&str> = call.get_subcommands().map(Command::get_name).collect();
                JobError::Call(format!(
                    "there is no verb \"{verb}\"; the verbs are: {}",
                    all.join(", ")
                ))
            })?;
            of.display_name(format!("{name}-{verb}"))
                .bin_name(format!("{name} {verb}"))
        }
    };
    let mut text = Vec::new();
    clap_mangen::Man::new(page)
        .render(&mut text)
        .map_err(|e| JobError::Internal(format!("the page for man: {e}")))?;
    Ok(text)
}

macro_rules! guide {
    ($($name:literal),*) => {
        [$(($name, include_str!(concat!("../guide/", $name, ".md")))),*]
    };
}

/// The pages of the guide: what each is called, and its text. None has the name of a verb.
const GUIDE: [(&str, &str); 13] = guide![
    "panel",
    "elsewhere",
    "coupons",
    "kits",
    "edge-up",
    "holds",
    "job",
    "calls",
    "files",
    "checks",
    "proof",
    "limits",
    "words"
];

/// The help of a verb, a page of the guide, or what there is of both.
///
/// # Errors
/// There is neither.
pub(super) fn page(topic: Option<&str>) -> Result<Vec<u8>, JobError> {
    let mut call = Call::command();
    // With the program's name before the verb.
    call.build();
    let Some(topic) = topic else {
        let mut text = call.render_help().to_string();
        let _ = writeln!(text, "\nPages of the guide, for `lapwright help PAGE`:");
        for (name, page) in GUIDE {
            let _ = writeln!(text, "  {name:<11}  {}", purpose(page));
        }
        return Ok(text.into_bytes());
    };
    if let Some(verb) = call.find_subcommand_mut(topic) {
        return Ok(verb.render_long_help().to_string().into_bytes());
    }
    if let Some((_, page)) = GUIDE.iter().find(|(name, _)| *name == topic) {
        return Ok(plain(page).into_bytes());
    }
    let pages: Vec<&str> = GUIDE.iter().map(|(name, _)| *name).collect();
    let verbs: Vec<&str> = call.get_subcommands().map(Command::get_name).collect();
    Err(JobError::Call(format!(
        "there is no help on \"{topic}\"; pages of the guide: {}; verbs: {}",
        pages.join(", "),
        verbs.join(", ")
    )))
}

/// What a page is for: the paragraph below its title.
fn purpose(page: &str) -> String {
    let below = page.split("\n\n").nth(1).unwrap_or_default();
    below.replace('\n', " ")
}

/// A page without its pictures, which a terminal cannot show.
fn plain(page: &str) -> String {
    let mut out = String::new();
    let mut blank = false;
    let lines = page.lines().filter(|line| !line.starts_with('<'));
    for line in lines {
        if !(blank && line.is_empty()) {
            out.push_str(line);
            out.push('\n');
        }
        blank = line.is_empty();
    }
    out
}
