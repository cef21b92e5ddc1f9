//! How much of everything is taken, in one place: what a file, a folder or a job holds more of is refused in
//! words. The guide's page on files lists the same in its section "Limits" (`tests/readme.rs` holds it against [`table`]).
//!
//! The numbers lie far beyond what a panel needs and within what a machine bears; none has a source.

/// Bytes of a panel, machine, material, stock, post-processor or pattern file.
pub const FILE_BYTES: usize = 1 << 20;

/// Lines of such a file.
pub const FILE_LINES: usize = 50_000;

/// Keys of such a file, headers of tables counted with them.
pub const FILE_KEYS: usize = 20_000;

/// How deep brackets and braces lie in each other.
pub const NESTING: usize = 12;

/// Parts of a dotted key.
pub const KEY_PARTS: usize = 8;

/// Characters of a name or another text of one line.
pub const TEXT: usize = 200;

/// Numbers or texts of a list in square brackets.
pub const LIST: usize = 100_000;

/// Tables of one kind, such as `[[blank]]` or `[[rule.piece]]`.
pub const TABLES: usize = 100;

/// Characters of a template.
pub const TEMPLATE: usize = 2_000;

/// How deep the choices of a template lie in each other, an `elif` counted like one more `if`.
pub const CHOICES: usize = 8;

/// Names in one choice of a template.
pub const CHOICE_NAMES: usize = 8;

/// Names and numbers in one sum of a template.
pub const SUM_VALUES: usize = 16;

/// How deep the brackets of a sum lie in each other.
pub const SUM_BRACKETS: usize = 4;

/// Lines that a template writes at a time.
pub const TEMPLATE_LINES: usize = 40;

/// Bytes of a program: some million moves.
pub const PROGRAM_BYTES: usize = 64 << 20;

/// Joints of a panel, whatever `joint_limit` says. A job takes some 6 kB of memory for each, by measurement.
pub const JOINTS: u32 = 1_000_000;

/// Counts of columns and rows that `fit` tries.
pub const FIT_SIZES: u32 = 200_000;

/// Panels of a job.
pub const PANELS: u32 = 10_000;

/// Spare pieces of a class in a kit, and for all kits together.
pub const SPARES: u32 = 1_000;

/// Bars, pieces of infill and spares of a job.
pub const PIECES: u64 = 1_000_000;

/// Strips or sheets that a job is cut from, those of each wood by themselves.
pub const SHEETS: usize = 100_000;

/// Bytes of all files of a job.
pub const JOB_BYTES: u64 = 4 << 30;

/// Files in a folder that is proven or replaced.
pub const FOLDER_FILES: usize = 200_000;

/// Bytes of a `job.json` that is read.
pub const SUMMARY_BYTES: usize = 512 << 20;

/// How much longer than the file that its sources make a file of a folder may be, so that it is read and told
/// about line by line, bytes.
pub const LONGER: usize = 64 << 10;

/// Bytes of the name of a job's folder: neighbours that the program makes while it works have longer ones.
pub const FOLDER_NAME: usize = 240;

/// Bytes of the path of a job's folder.
pub const FOLDER_PATH: usize = 3_900;

/// Seconds that a run waits for another one that puts a folder in place beside its own.
pub const WAIT_S: u64 = 30;

/// Every limit, as the guide has it: what is limited, and the most.
#[must_use]
pub fn table() -> Vec<(&'static str, String)> {
    let mib = |bytes: u64| format!("{} MiB", bytes >> 20);
    let n = |most: u64| {
        let digits = most.to_string();
        if digits.len() < 5 {
            return digits;
        }
        let mut grouped = String::new();
        for (i, digit) in digits.chars().enumerate() {
            if i > 0 && (digits.len() - i).is_multiple_of(3) {
                grouped.push(' ');
            }
            grouped.push(digit);
        }
        grouped
    };
    vec![
        ("a file that you write", mib(FILE_BYTES as u64)),
        ("its lines", n(FILE_LINES as u64)),
        ("its keys and headers", n(FILE_KEYS as u64)),
        ("brackets in each other", n(NESTING as u64)),
        ("parts of a dotted key", n(KEY_PARTS as u64)),
        ("characters of a name", n(TEXT as u64)),
        ("numbers or texts in a list", n(LIST as u64)),
        ("tables of one kind", n(TABLES as u64)),
        ("characters of a template", n(TEMPLATE as u64)),
        ("choices of a template in each other", n(CHOICES as u64)),
        ("names in a choice", n(CHOICE_NAMES as u64)),
        ("names and numbers in a sum", n(SUM_VALUES as u64)),
        ("brackets of a sum in each other", n(SUM_BRACKETS as u64)),
        ("lines that a template writes", n(TEMPLATE_LINES as u64)),
        ("a program", mib(PROGRAM_BYTES as u64)),
        ("joints of a panel", n(u64::from(JOINTS))),
        ("sizes that `fit` tries", n(u64::from(FIT_SIZES))),
        ("panels of a job", n(u64::from(PANELS))),
        ("spares of a class", n(u64::from(SPARES))),
        ("pieces of a job", n(PIECES)),
        ("strips or sheets of a wood", n(SHEETS as u64)),
        ("all files of a job", mib(JOB_BYTES)),
        ("files in a folder that is proven", n(FOLDER_FILES as u64)),
        ("a `job.json` that is read", mib(SUMMARY_BYTES as u64)),
        ("bytes of a folder's name", n(FOLDER_NAME as u64)),
        ("bytes of its path", n(FOLDER_PATH as u64)),
        ("seconds of waiting for another run", n(WAIT_S)),
    ]
}
