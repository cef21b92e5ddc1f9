//! Says what the replay finds in bytes that it is handed in place of a job's cut file: the replay alone, with no
//! digest in its way.
//!
//! The one argument is a job folder, which is planned again from its sources and proven once. The first line out
//! names its cut files: `{"files": [..]}`. Every line in is a request, `{"file": NAME, "text": BYTES}` (a character for each byte,
//! U+0000 to U+00FF) or `{"file": NAME, "path": PATH}`; its answer is one line, `{"faults": [{"rule", "line",
//! "text"}]}`, or `{"error": TEXT}` for what is no request.

use std::collections::BTreeMap;
use std::fs;
use std::io::{self, BufRead, Write};
use std::path::Path;
use std::process::ExitCode;

use lapwright::job::{CutFile, Holds, Made, prove};
use lapwright::plan::Plan;
use lapwright::replay::ReplayFault;
use serde_json::{Value, json};

fn main() -> ExitCode {
    match run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(e) => {
            eprintln!("{e}");
            ExitCode::FAILURE
        }
    }
}

fn run() -> Result<(), String> {
    let folder = std::env::args().nth(1).ok_or("name a job folder")?;
    let (plan, made) = prove(Path::new(&folder), &mut |_| ()).map_err(|e| e.to_string())?;
    let job = Job {
        files: plan
            .cut_files()
            .into_iter()
            .map(|f| (f.path.clone(), f))
            .collect(),
        plan: &plan,
        made: &made,
    };
    let mut out = io::stdout().lock();
    let mut say = |answer: Value| writeln!(out, "{answer}").and_then(|()| out.flush());
    say(json!({ "files": job.files.keys().collect::<Vec<_>>() })).map_err(|e| e.to_string())?;
    for line in io::stdin().lock().lines() {
        let line = line.map_err(|e| e.to_string())?;
        let answer = job.answer(&line).unwrap_or_else(|e| json!({ "error": e }));
        say(answer).map_err(|e| e.to_string())?;
    }
    Ok(())
}

struct Job<'p> {
    plan: &'p Plan,
    made: &'p Made,
    /// Every cut file, by its name in the folder.
    files: BTreeMap<String, CutFile<'p>>,
}

impl Job<'_> {
    fn answer(&self, line: &str) -> Result<Value, String> {
        let request: Value = serde_json::from_str(line).map_err(|e| e.to_string())?;
        let name = request["file"].as_str().ok_or("no file is named")?;
        let file = self.files.get(name).ok_or("no such cut file")?;
        let bytes = match (request["text"].as_str(), request["path"].as_str()) {
            (Some(text), None) => {
                let bytes: Result<Vec<u8>, _> = text.chars().map(u8::try_from).collect();
                bytes.map_err(|e| e.to_string())?
            }
            (None, Some(path)) => fs::read(path).map_err(|e| e.to_string())?,
            _ => return Err("either `text` or `path` is needed".into()),
        };
        let faults: Vec<Value> = match file.prove(&bytes) {
            Err(faults) => {
                let told =
                    |f: &ReplayFault| json!({ "rule": f.rule, "line": f.line, "text": f.what });
                faults.iter().map(told).collect()
            }
            Ok(_) if is_slots(file) => self.together(name, &bytes),
            Ok(_) => Vec::new(),
        };
        Ok(json!({ "faults": faults }))
    }

    /// What is wrong with what all clampings remove, one of them with other bytes.
    fn together(&self, name: &str, bytes: &[u8]) -> Vec<Value> {
        let of = |path: &str| match self.files.get(path) {
            _ if path == name => Some(bytes),
            Some(file) if is_slots(file) => self.made.files.get(path).map(Vec::as_slice),
            _ => None,
        };
        let faults = self.plan.replay(of, &mut |_| ()).faults;
        let told = |text: &String| json!({ "rule": "together", "line": null, "text": text });
        faults.iter().map(told).collect()
    }
}

fn is_slots(file: &CutFile<'_>) -> bool {
    matches!(file.holds, Holds::Slots { .. })
}
