//! The workshop sheet: what is on it, that texts stay texts, and that pages hold what they must.
#![allow(clippy::unwrap_used, clippy::panic)]

use lapwright::job::{Made, coupon_plan, plan};
use lapwright::panel::{JobFiles, Paper};
use lapwright::setup::CouponKind;
use lapwright::sheet::{Block, Document, Figure, Page, Section, Size, Table};
use lapwright::write::html::html;
use lapwright::write::pdf::{PdfError, pdf, room};

/// A name that would be markup if it were let.
const NAME: &str = "<script>alert(1)</script> & \"quoted\" </style> url(#x) ]]>";

fn made(files: JobFiles) -> Made {
    Made::of(&plan(files, &mut |_| {}).unwrap(), &mut |_| {}).unwrap()
}

fn text(made: &Made, name: &str) -> String {
    String::from_utf8(made.files[name].clone()).unwrap()
}

fn document(blocks: Vec<Block>) -> Document {
    let section = Section {
        title: "Part".into(),
        page: Page::Upright,
        blocks,
    };
    Document {
        title: NAME.into(),
        paper: Paper::A4,
        sections: vec![section],
    }
}

/// How many pages a PDF has: its page objects, which stand in the open.
fn pages(pdf: &[u8]) -> usize {
    let find = |what: &[u8]| pdf.windows(what.len()).filter(|w| *w == what).count();
    find(b"/Type/Page") + find(b"/Type /Page") - find(b"/Type/Pages") - find(b"/Type /Pages")
}

fn square(mm: f64, size: Size) -> Block {
    let svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{mm}mm\" height=\"{mm}mm\" viewBox=\"0 0 1 1\">\
         <rect width=\"1\" height=\"1\"/></svg>"
    );
    Block::Figure(Figure {
        svg: svg.into(),
        alt: "a square".into(),
        caption: String::new(),
        size,
    })
}

#[test]
fn every_kind_of_job_has_both_files() {
    for panel in ["check", "demo", "hemp-leaf-card", "router-square"] {
        let made = made(JobFiles::builtin_panel(panel).unwrap());
        assert!(made.files["sheet.pdf"].starts_with(b"%PDF-"), "{panel}");
        let page = text(&made, "sheet.html");
        for part in [
            "Before you cut",
            "Stock to buy",
            "Cut list",
            "Story sticks",
            "Checks",
        ] {
            assert!(page.contains(part), "{panel}: {part}");
        }
        for part in ["Sticks and cross-cuts", "Clamping 1 of"] {
            assert_eq!(page.contains(part), panel == "check", "{panel}: {part}");
        }
        let infill = page.contains("Table for the shooting jig");
        assert_eq!(infill, panel == "hemp-leaf-card", "{panel}");
    }
    for kind in CouponKind::ALL {
        let files = JobFiles::builtin_panel("demo").unwrap();
        let plan = coupon_plan(files, kind, &mut |_| {}).unwrap();
        let made = Made::of(&plan, &mut |_| {}).unwrap();
        let page = text(&made, "sheet.html");
        assert!(page.contains("How to read it") && !page.contains("Cut list"));
        assert!(made.files.contains_key("sheet.pdf"));
    }
}

#[test]
fn a_name_stays_a_name() {
    let mut files = JobFiles::builtin_panel("demo").unwrap();
    files.panel.name = NAME.into();
    let made = made(files);
    let page = text(&made, "sheet.html");
    let lower = page.to_lowercase();
    assert!(!lower.contains("<script") && !lower.contains("</script"));
    assert_eq!(lower.matches("</style").count(), 1, "the style ends once");
    let escaped = "&lt;script&gt;alert(1)&lt;/script&gt; &amp; &quot;quoted&quot;";
    assert!(page.contains(&format!("<h1>{escaped}")));
    assert!(!text(&made, "panel.svg").contains("<script"));
    assert!(made.files.contains_key("sheet.pdf"), "{:?}", made.warnings);
}

#[test]
fn the_same_document_makes_the_same_bytes() {
    let [one, two] = [(), ()].map(|()| made(JobFiles::builtin_panel("check").unwrap()));
    for name in ["sheet.pdf", "sheet.html"] {
        assert!(one.files[name] == two.files[name], "{name}");
    }
}

#[test]
fn a_picture_to_measure_from_is_never_made_smaller() {
    let [wide, _] = room(Paper::A4.size());
    assert!(pdf(&document(vec![square(wide, Size::True)])).is_ok());
    match pdf(&document(vec![square(wide + 0.1, Size::True)])) {
        Err(PdfError::TooLarge { size, room, .. }) => {
            assert!((size[0] - wide - 0.1).abs() < 1e-3 && (room[0] - wide).abs() < 1e-9);
        }
        other => panic!("{other:?}"),
    }
    // One that may be made smaller is.
    let made = pdf(&document(vec![square(1000.0, Size::Fit)])).unwrap();
    assert_eq!(pages(&made.bytes), 1);
}

#[test]
fn pictures_that_do_not_fit_together_get_pages_of_their_own() {
    let [wide, high] = room(Paper::A4.size());
    let size = wide.min(0.6 * high);
    let squares = |n| (0..n).map(|_| square(size, Size::True)).collect();
    for n in 1..4 {
        assert_eq!(pages(&pdf(&document(squares(n))).unwrap().bytes), n);
    }
}

#[test]
fn long_tables_and_long_cells_go_on_over_pages() {
    let mut table = Table::new("Rows", &["#No.", "Text"]);
    for k in 0..300 {
        table.row([k.to_string(), "a row".to_owned()]);
    }
    let rows = pages(&pdf(&document(vec![Block::Table(table)])).unwrap().bytes);
    assert!((5..=9).contains(&rows), "{rows} pages");
    // One cell of many lines, and one word wider than any page.
    let mut table = Table::new("Cells", &["#No.", "Text"]);
    table.row(["1".to_owned(), "R1, ".repeat(6000)]);
    table.row(["2".to_owned(), "W".repeat(5000)]);
    let cells = pages(&pdf(&document(vec![Block::Table(table)])).unwrap().bytes);
    assert!((3..=12).contains(&cells), "{cells} pages");
}

#[test]
fn odd_documents_are_written() {
    let empty = Document {
        sections: Vec::new(),
        ..document(Vec::new())
    };
    assert_eq!(pages(&pdf(&empty).unwrap().bytes), 1, "the head alone");
    assert!(html(&empty).ends_with(b"</html>\n"));
    let blank = document(vec![
        Block::Heading(String::new()),
        Block::Text(String::new()),
        Block::List(Vec::new()),
        Block::Table(Table::new("", &["A"])),
    ]);
    assert_eq!(pages(&pdf(&blank).unwrap().bytes), 1);
    let broken = Block::Figure(Figure {
        svg: b"no picture".to_vec(),
        alt: "nothing".into(),
        caption: String::new(),
        size: Size::Fit,
    });
    assert!(matches!(
        pdf(&document(vec![broken])),
        Err(PdfError::Picture(..))
    ));
}

#[test]
fn a_letter_that_no_font_has_is_a_question_mark_and_told() {
    let text = document(vec![Block::Text(
        "oak 組 Eiche, žluté dřevo, ξύλο, дерево".into(),
    )]);
    let missing = pdf(&text).unwrap().missing;
    assert_eq!(missing.into_iter().collect::<String>(), "組");
}
