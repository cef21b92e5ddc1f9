//! What is wrong, on standard error in words, and on standard output as JSON where that is asked for.

use std::process::ExitCode;

use clap::CommandFactory;
use lapwright::job::{Failure, JobError};

use super::call::Call;
use super::{REFUSED, print};

/// A call that cannot be read; help and version are results.
pub(super) fn call(e: &clap::Error) -> ExitCode {
    if !e.use_stderr() {
        return match e.print() {
            Ok(()) => ExitCode::SUCCESS,
            Err(_) => REFUSED.into(),
        };
    }
    // The call is not understood, so that the word for JSON is looked for in it as it stands.
    let json = std::env::args_os().any(|word| word == "--json");
    if let Some(right) = turned_round() {
        return job(
            &JobError::Call(format!("the verb comes first: {right}")),
            json,
        );
    }
    let said = e.print();
    let wrong = JobError::Call(e.render().to_string().trim_end().to_owned());
    match (json, said) {
        (_, Err(_)) => REFUSED.into(),
        (true, Ok(())) => as_json(&wrong),
        (false, Ok(())) => wrong.exit_status().into(),
    }
}

/// A job that stops.
pub(super) fn job(e: &JobError, json: bool) -> ExitCode {
    anstream::eprintln!("{}", e.coloured());
    if json {
        as_json(e)
    } else {
        e.exit_status().into()
    }
}

fn as_json(e: &JobError) -> ExitCode {
    match Failure::of(e).json() {
        Ok(text) => {
            let printed = print(&text);
            if printed == ExitCode::SUCCESS {
                e.exit_status().into()
            } else {
                printed
            }
        }
        Err(what) => {
            eprintln!("{what}");
            REFUSED.into()
        }
    }
}

/// The call as it would be right, where a file stands before the verb.
fn turned_round() -> Option<String> {
    let words: Vec<String> = std::env::args_os()
        .skip(1)
        .map(|word| word.to_string_lossy().into_owned())
        .collect();
    let [file, verb, rest @ ..] = words.as_slice() else {
        return None;
    };
    let known = Call::command().find_subcommand(verb).is_some();
    let right = ["lapwright", verb, file]
        .into_iter()
        .chain(rest.iter().map(String::as_str));
    (known && file.ends_with(".toml")).then(|| right.collect::<Vec<_>>().join(" "))
}
