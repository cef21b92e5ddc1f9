//! Data flows one way: what a module imports stands above it in the list of DEVELOPERS.md, and no files of the modules
//! in [`WITHOUT_CIRCLES`] import one another in a ring. Read from the sources' own paths.
#![allow(clippy::unwrap_used, clippy::panic)]

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

/// Modules whose files are in order too.
const WITHOUT_CIRCLES: [&str; 7] = [
    "geom", "document", "size", "safety", "plan", "report", "job",
];

/// A source file as a module: `plan::coupon::edge_up`.
type Name = String;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Every module but those of tests, with its code: no comments, no tests.
fn modules() -> BTreeMap<Name, String> {
    let mut found = BTreeMap::new();
    let mut folders = vec![root().join("src")];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
                continue;
            }
            let inner = path.strip_prefix(root().join("src")).unwrap();
            let name = inner.with_extension("").display().to_string();
            let name = name.replace('/', "::");
            let name = name.strip_suffix("::mod").unwrap_or(&name).to_owned();
            let is_code = path.extension().is_some_and(|e| e == "rs");
            if is_code && !name.ends_with("tests") && name != "lib" {
                found.insert(name, code(&fs::read_to_string(&path).unwrap()));
            }
        }
    }
    found
}

fn code(text: &str) -> String {
    let lines = text.lines().map(|line| match line.find("//") {
        // A double slash in a string has a quote before it.
        Some(at) if !line[..at].contains('"') => &line[..at],
        _ => line,
    });
    // How far something is visible is no import.
    let text: String = lines.flat_map(|line| [line, "\n"]).collect();
    let text = text
        .replace("in crate::", "in ")
        .replace("in super::", "in ");
    let tests = text.match_indices("#[cfg(test)]").find(|(at, _)| {
        let rest: Vec<&str> = text[*at..].lines().skip(1).collect();
        let first = rest.iter().find(|l| !l.trim_start().starts_with("#["));
        first.is_some_and(|l| l.starts_with("mod ") && l.ends_with('{'))
    });
    match tests {
        Some((at, _)) => text[..at].to_owned(),
        None => text,
    }
}

/// Every path of a `use` tree.
fn paths(tree: &str) -> Vec<String> {
    let tree = tree.trim();
    let Some((head, body)) = tree.split_once('{') else {
        let path = tree.split(" as ").next().unwrap();
        return vec![path.trim().to_owned()];
    };
    let body = body.trim_end().strip_suffix('}').unwrap();
    let (mut depth, mut from) = (0, 0);
    let mut parts = Vec::new();
    for (at, letter) in body.char_indices() {
        match letter {
            '{' => depth += 1,
            '}' => depth -= 1,
            ',' if depth == 0 => {
                parts.push(&body[from..at]);
                from = at + 1;
            }
            _ => {}
        }
    }
    parts.push(&body[from..]);
    let each = parts.into_iter().filter(|part| !part.trim().is_empty());
    each.flat_map(paths)
        .map(|rest| format!("{}{rest}", head.trim()))
        .collect()
}

/// The `use` trees of a module's code, told apart by whether they give a name to others, and the rest of the code.
fn uses(code: &str) -> (Vec<String>, Vec<String>, String) {
    let (mut own, mut given, mut rest) = (Vec::new(), Vec::new(), String::new());
    let mut lines = code.lines();
    while let Some(line) = lines.next() {
        let start = line.trim_start();
        let is_public = start.starts_with("pub");
        let Some((_, tree)) = start.split_once("use ").filter(|(before, _)| {
            before.is_empty()
                || (before.starts_with("pub") && !before.contains(' '))
                || *before == "pub "
        }) else {
            rest += line;
            rest.push('\n');
            continue;
        };
        let mut tree = tree.to_owned();
        while !tree.contains(';') {
            tree += lines.next().unwrap();
        }
        let list = if is_public { &mut given } else { &mut own };
        list.extend(paths(tree.split(';').next().unwrap()));
    }
    (own, given, rest)
}

/// Paths in code that begin with `crate` or `super`, or with one of the module's own children.
fn inline(name: &str, rest: &str, modules: &BTreeMap<Name, String>) -> Vec<String> {
    let words = rest.split(|c: char| !(c.is_alphanumeric() || c == '_' || c == ':'));
    let path = |word: &str| {
        let (first, _) = word.split_once("::")?;
        let child = modules.contains_key(&format!("{name}::{first}"));
        match first {
            "crate" | "super" => Some(word.to_owned()),
            _ if child => Some(format!("self::{word}")),
            _ => None,
        }
    };
    words.filter_map(path).collect()
}

/// A path from the crate's root.
fn absolute(name: &str, path: &str, modules: &BTreeMap<Name, String>) -> Option<Vec<String>> {
    let mut parts = path.split("::").map(str::to_owned).peekable();
    let mut base: Vec<String> = name.split("::").map(str::to_owned).collect();
    let first = parts.peek()?.clone();
    match first.as_str() {
        "crate" => base.clear(),
        "self" => {}
        "super" => {
            while parts.next_if(|part| part == "super").is_some() {
                base.pop();
            }
            base.extend(parts);
            return Some(base);
        }
        _ if modules.contains_key(&format!("{name}::{first}")) => {
            base.extend(parts);
            return Some(base);
        }
        _ => return None,
    }
    parts.next();
    base.extend(parts);
    Some(base)
}

/// Which module every module imports from, by the file that holds what is imported.
struct Imports {
    modules: BTreeMap<Name, String>,
    given: BTreeMap<Name, Vec<Vec<String>>>,
}

impl Imports {
    fn defines(&self, module: &str, name: &str) -> bool {
        let heads = ["fn", "struct", "enum", "type", "const", "static", "trait"];
        self.modules[module].lines().any(|line| {
            let mut words = line.split(|c: char| !(c.is_alphanumeric() || c == '_'));
            !line.starts_with(' ')
                && words.any(|word| heads.contains(&word))
                && words.next() == Some(name)
        })
    }

    /// The file that a path leads to, through what others give on.
    fn home(&self, path: &[String], depth: usize) -> Option<Name> {
        let (module, rest) = (1..=path.len()).rev().find_map(|k| {
            let module = path[..k].join("::");
            self.modules
                .contains_key(&module)
                .then(|| (module, &path[k..]))
        })?;
        let Some(name) = rest.first() else {
            return Some(module);
        };
        if depth == 0 || self.defines(&module, name) {
            return Some(module);
        }
        for given in self.given.get(&module).into_iter().flatten() {
            let last = given.last().unwrap();
            if last == name {
                return self.home(given, depth - 1);
            }
            let of = given[..given.len() - 1].join("::");
            if last == "*" && self.modules.contains_key(&of) && self.defines(&of, name) {
                return Some(of);
            }
        }
        Some(module)
    }
}

/// For each module, the modules that it imports from.
fn imports() -> BTreeMap<Name, BTreeSet<Name>> {
    let modules = modules();
    let mut asked: BTreeMap<Name, Vec<Vec<String>>> = BTreeMap::new();
    let mut given = BTreeMap::new();
    for (name, code) in &modules {
        let (own, on, rest) = uses(code);
        let own = own.into_iter().chain(on.iter().cloned());
        let all = own.chain(inline(name, &rest, &modules));
        let of = |path: &String| absolute(name, path, &modules);
        asked.insert(name.clone(), all.filter_map(|p| of(&p)).collect());
        given.insert(name.clone(), on.iter().filter_map(of).collect::<Vec<_>>());
    }
    let all = Imports { modules, given };
    let home = |name: &Name, path: &Vec<String>| all.home(path, 5).filter(|to| to != name);
    asked
        .iter()
        .map(|(name, list)| {
            let to = list.iter().filter_map(|path| home(name, path)).collect();
            (name.clone(), to)
        })
        .collect()
}

/// The modules of DEVELOPERS.md's map, in its order.
fn listed() -> Vec<String> {
    let text = fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let map = text.split("## Map").nth(1).unwrap();
    let map = map.split("\n## ").next().unwrap();
    let cells = map
        .lines()
        .filter_map(|line| line.strip_prefix("| ")?.split(" |").next());
    let names = cells.flat_map(|cell| cell.split(", "));
    names
        .filter_map(|name| {
            let name = name.trim_matches('`').strip_prefix("src/")?;
            Some(
                name.trim_end_matches('/')
                    .trim_end_matches(".rs")
                    .to_owned(),
            )
        })
        .collect()
}

#[test]
fn imports_run_down_the_list() {
    let listed = listed();
    let place = |module: &str| {
        let top = module.split("::").next().unwrap();
        let found = listed.iter().position(|name| name == top);
        found.unwrap_or_else(|| panic!("{top} is not on the map of DEVELOPERS.md"))
    };
    let imports = imports();
    let all: usize = imports.values().map(BTreeSet::len).sum();
    assert!(all > 500, "only {all} imports were found");
    let mut wrong = Vec::new();
    for (module, from) in &imports {
        let lower = from.iter().filter(|other| place(other) > place(module));
        wrong.extend(lower.map(|other| format!("{module} imports {other}, which is below it")));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn no_files_import_one_another_in_a_ring() {
    let imports = imports();
    let reached = |start: &Name| {
        let mut seen = BTreeSet::new();
        let mut left: Vec<&Name> = imports[start].iter().collect();
        while let Some(next) = left.pop() {
            if seen.insert(next) {
                left.extend(&imports[next]);
            }
        }
        seen
    };
    let inside = |module: &&Name| WITHOUT_CIRCLES.contains(&module.split("::").next().unwrap());
    let rings: Vec<&Name> = (imports.keys().filter(inside))
        .filter(|module| reached(module).contains(module))
        .collect();
    assert!(rings.is_empty(), "in rings: {rings:?}");
    for module in WITHOUT_CIRCLES {
        let own = imports.keys().filter(|name| name.starts_with(module));
        assert!(own.count() > 2, "{module} has no files");
    }
}
