//! Air runs of real jobs: each program has one, and what the replay lets pass moves the same.

use lapwright::job::{Holds, Made, plan};
use lapwright::plan::Plan;

use super::gcode::{KINDS, spoilt};
use super::own_reader::{run, same};
use super::spoil::Random;

const PANELS: [&str; 4] = ["demo", "router-square", "hemp-leaf-outlines", "check"];

fn job(panel: &str) -> (Plan, Made) {
    let files = crate::panel_support::panel(panel);
    let plan = plan(files, &mut |_| ()).expect("a sound panel");
    let made = Made::of(&plan, &mut |_| ()).expect("a sound job");
    (plan, made)
}

#[test]
fn every_program_has_one_and_a_fault_in_it_fails_the_job() {
    for panel in PANELS {
        let (plan, made) = job(panel);
        let programs = made.files.keys().filter(|p| p.ends_with(".nc"));
        let (air, cut): (Vec<&String>, Vec<&String>) =
            programs.partition(|p| p.starts_with("gcode/air-run-"));
        let named: Vec<String> = cut
            .iter()
            .map(|p| p.replacen("gcode/", "gcode/air-run-", 1))
            .collect();
        assert!(
            !cut.is_empty() && air.iter().copied().eq(&named),
            "{panel}: {air:?}"
        );
        for path in air {
            let sound = String::from_utf8(made.files[path].clone()).expect("ASCII");
            let low = sound.replacen("\nM5\n", "\nM5\nM3 S100\n", 1);
            assert_ne!(low, sound, "{panel}, {path}");
            let of = |p: &str| match p == path {
                true => Some(low.as_bytes()),
                false => made.files.get(p).map(Vec::as_slice),
            };
            let faults = plan.replay(of, &mut |_| ()).faults;
            assert!(
                faults.iter().any(|f| f.starts_with(path.as_str())),
                "{panel}: {faults:?}"
            );
            assert!(
                faults.iter().all(|f| f.starts_with(path.as_str())),
                "{panel}: {faults:?}"
            );
        }
    }
}

#[test]
fn faults_are_caught_or_harmless() {
    let mut random = Random(91);
    for panel in PANELS {
        let (plan, made) = job(panel);
        let files = plan.cut_files();
        let air = files
            .iter()
            .filter(|f| matches!(f.holds, Holds::AirRun(..)));
        for file in air.take(3) {
            let sound = std::str::from_utf8(&made.files[&file.path]).expect("ASCII");
            file.prove(sound.as_bytes()).expect("sound");
            let base = run(sound.as_bytes());
            let (mut done, mut caught) = (0, 0);
            while done < 700 {
                let Some((what, text)) = spoilt(sound, done % KINDS, &mut random) else {
                    continue;
                };
                done += 1;
                match file.prove(text.as_bytes()) {
                    Err(_) => caught += 1,
                    Ok(_) => {
                        if let Err(change) = same(&base, &run(text.as_bytes())) {
                            panic!(
                                "{panel}, {}, {what}: not caught, though {change}",
                                file.path
                            );
                        }
                    }
                }
            }
            assert!(
                caught > 600,
                "{panel}, {}: {caught} of {done} caught",
                file.path
            );
        }
    }
}
