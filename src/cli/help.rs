//! The words of a call for shells and for `man`, from the definitions that read it.

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
