//! The least lead with which a mark finds room, as advice names it.

use std::collections::BTreeMap;

use lapwright::job::{JobError, plan};
use lapwright::panel::{HeadKind, JobFiles};
use lapwright::safety::{Check, CheckId, Status};

use super::{files, panels};

/// The checks of a job, whatever came of them; nothing for a panel that is refused for its lines.
fn checks(files: &JobFiles) -> Option<Vec<Check>> {
    match plan(files.clone(), &mut |_| ()) {
        Ok(plan) => Some(plan.checks),
        Err(JobError::Checks(checks)) => Some(checks),
        Err(_) => None,
    }
}

fn no_room(checks: &[Check]) -> Vec<&Check> {
    let failed = checks
        .iter()
        .filter(|c| c.id == CheckId::MarkRoom && c.status == Status::Fail);
    failed.collect()
}

/// The leads that advice names: the family whose own ends are meant, none for the common lead; mm.
fn leads(checks: &[Check]) -> BTreeMap<Option<String>, f64> {
    let mut found = BTreeMap::new();
    for check in no_room(checks) {
        let Some((before, _)) = check.advice().split_once(" or more") else {
            continue;
        };
        let (key, value) = before.rsplit_once(" = ").unwrap();
        let key = key.rsplit_once(", ").unwrap().1;
        let family = key.strip_prefix("ends.").map(str::to_owned);
        assert!(family.is_some() || key == "lead", "{key}");
        let lead = found.entry(family).or_insert(0.0);
        *lead = f64::max(*lead, value.parse::<f64>().unwrap());
    }
    found
}

/// Follows advice, so many hundredths of a mm short of it.
fn with_leads(files: &JobFiles, leads: &BTreeMap<Option<String>, f64>, less: f64) -> JobFiles {
    let mut files = files.clone();
    let sticks = &mut files.panel.sticks;
    let short = |lead: f64| ((100.0 * lead).round() - less) / 100.0;
    for (family, lead) in leads {
        match family {
            None => sticks.lead = short(*lead),
            Some(name) => sticks
                .ends
                .iter_mut()
                .filter(|e| e.0 == *name)
                .for_each(|e| e.1 = short(*lead)),
        }
    }
    files
}

/// Where the mark finds no room, the lead that is named gives it room, and a hundredth less does not.
#[test]
fn the_lead_that_is_named_is_the_least() {
    let (mut followed, mut own, mut beyond) = (0, 0, 0);
    for (i, case) in panels::cases()[..panels::FIRST]
        .iter()
        .enumerate()
        .step_by(5)
    {
        let mut files = files(case, i);
        files.panel.outline.overhang = [0.0, 12.5][i % 2];
        files.panel.sticks.lead = 20.0;
        if i % 3 == 0 {
            let last = files.panel.ground.families.last().unwrap().name.clone();
            files.panel.sticks.ends = vec![(last, 22.0)];
        }
        if let HeadKind::Router(router) = &mut files.own_mut().expect("a machine").machine.head {
            router.hold_width = 9.0;
        }
        let Some(before) = checks(&files) else {
            continue;
        };
        let failed = no_room(&before);
        if failed.is_empty() {
            continue;
        }
        let leads = leads(&before);
        if leads.is_empty() {
            // Sticks would be longer than they may be.
            beyond += 1;
            continue;
        }
        own += usize::from(leads.keys().any(Option::is_some));
        let after = checks(&with_leads(&files, &leads, 0.0)).unwrap();
        assert!(
            no_room(&after).is_empty(),
            "{}: {leads:?}: {:?}",
            case.panel.name,
            no_room(&after)
        );
        let short = checks(&with_leads(&files, &leads, 1.0)).unwrap();
        assert!(
            !no_room(&short).is_empty(),
            "{}: less than {leads:?} is enough",
            case.panel.name
        );
        followed += 1;
    }
    println!(
        "{followed} followed, {own} of them with ends of their own; {beyond} beyond the limit"
    );
    assert!(followed > 30 && own > 5, "{followed}, {own}");
}
