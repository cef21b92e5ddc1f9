//! The workshop sheet: what is on it, that texts stay texts, and that pages hold what they must.
#![allow(clippy::unwrap_used, clippy::panic)]

use lapwright::document::{Block, Column, Document, Figure, Page, Section, Size, Table};
use lapwright::job::{Made, coupon_plan, plan};
use lapwright::panel::{HeadKind, JobFiles, Kits, Paper, Units};
use lapwright::setup::CouponKind;
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
        let made = made(crate::panel_support::panel(panel));
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
        let files = crate::panel_support::panel("plain-window");
        let plan = coupon_plan(files, kind, &mut |_| {}).unwrap();
        let made = Made::of(&plan, &mut |_| {}).unwrap();
        let page = text(&made, "sheet.html");
        assert!(page.contains("How to read it") && !page.contains("Cut list"));
        assert!(made.files.contains_key("sheet.pdf"));
    }
}

/// Sections of a page by their titles, each as its text without markup and pictures.
fn sections(page: &str) -> Vec<(String, String)> {
    let words = |html: &str| -> String {
        let mut out = String::new();
        for (k, part) in html.split("<svg").enumerate() {
            let part = if k == 0 {
                part
            } else {
                part.split_once("</svg>").unwrap().1
            };
            let mut tag = false;
            for c in part.chars() {
                match c {
                    '<' => tag = true,
                    '>' => {
                        tag = false;
                        out.push(' ');
                    }
                    _ if !tag => out.push(c),
                    _ => {}
                }
            }
        }
        out.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let parts = page.split("<section ").skip(1);
    let one = |part: &str| {
        let (_, rest) = part.split_once("<h2").unwrap();
        let (title, rest) = rest.split_once("</h2>").unwrap();
        let title = title.split_once('>').unwrap().1;
        (title.to_owned(), words(rest))
    };
    parts.map(one).collect()
}

fn section(page: &str, title: &str) -> String {
    let found = sections(page).into_iter().find(|(t, _)| t == title);
    found.unwrap_or_else(|| panic!("no {title}")).1
}

#[test]
fn a_sheet_in_inches_names_no_millimetres_to_do_work_by() {
    for (panel, kits) in [
        ("check", true),
        ("router-square", false),
        ("hexagon-card", false),
    ] {
        let mut files = crate::panel_support::panel(panel);
        if kits {
            files.panel.quantity = 4;
            files.panel.kits = Some(Kits {
                panels: 2,
                spares: 0,
                common_spares: 0,
            });
        }
        let in_mm = text(&made(files.clone()), "sheet.html");
        files.panel.workshop_sheet.units = Units::Inch;
        // Names of stock and cutters are as their files have them.
        files.material.name = "wood".into();
        let own = &mut files.own_mut().expect("a machine").machine;
        own.name = "machine".into();
        if let HeadKind::Router(router) = &mut own.head {
            router.tool.name = "cutter".into();
        }
        let made = made(files);
        let in_inches = text(&made, "sheet.html");
        let told = [
            "Setups",
            "Surround",
            "Assembly",
            "Sticks and cross-cuts",
            "Kits",
        ];
        for (title, words) in sections(&in_inches) {
            if told.contains(&title.as_str()) {
                assert!(!words.contains(" mm"), "{panel}, {title}: {words}");
            }
        }
        let [metric, inch] = [&in_mm, &in_inches].map(|page| section(page, "Assembly"));
        if panel != "hexagon-card" {
            continue;
        }
        // 8 / 25.4 is 0.31496, nearest to 20/64, which is 0.06 mm less.
        assert!(metric.contains("bars run 8 mm past it"), "{metric}");
        assert!(inch.contains("bars run 5/16 (0.315) in past it"), "{inch}");
        // The folder's own pictures say the same.
        let pictures = made
            .files
            .iter()
            .filter(|(path, _)| path.starts_with("pictures/step"));
        let words: String = pictures
            .map(|(_, bytes)| String::from_utf8_lossy(bytes).into_owned())
            .collect();
        assert!(words.contains("bars run 5/16 (0.315) in past it"));
    }
}

#[test]
fn kits_are_told_where_there_are_any() {
    let mut files = crate::panel_support::panel("plain-window");
    let alone = text(&made(files.clone()), "sheet.html");
    assert!(sections(&alone).iter().all(|(title, _)| title != "Kits"));
    files.panel.quantity = 6;
    files.panel.kits = Some(Kits {
        panels: 2,
        spares: 1,
        common_spares: 2,
    });
    let made = made(files);
    let page = text(&made, "sheet.html");
    let kits = section(&page, "Kits");
    assert!(kits.contains("3 kits of 2 panels."), "{kits}");
    // Six uprights to a panel: 12 to a kit, one spare in each of three kits and two kept.
    assert!(
        kits.contains("A bar 186 12 1 2 41 by the programs"),
        "{kits}"
    );
    assert!(kits.contains("s1 surround 184 4 0 0 12 by hand"), "{kits}");
    for path in made.files.keys().filter(|path| path.starts_with("labels/")) {
        assert!(kits.contains(path.as_str()), "{path}");
    }
    let list = section(&page, "Cut list");
    assert!(list.contains("A 36 + 5 186"), "{list}");
}

/// What the bars of a lapped surround look like stands where a mitred one has its mitres.
#[test]
fn a_lapped_surround_has_no_mitres() {
    let page = text(
        &made(crate::panel_support::panel("hexagon-card")),
        "sheet.html",
    );
    let surround = section(&page, "Surround");
    // The bar's own length, past the corners by its ears, not the length of the mitred side.
    assert!(
        surround.contains("s1 6 63.66 1.50 × 9.00 5.83, 57.83 2.66 4.50"),
        "{surround}"
    );
    assert!(!surround.to_lowercase().contains("mitre"), "{surround}");
}

/// What stands beside a picture is not drawn into it again.
#[test]
fn no_text_of_a_step_stands_on_the_page_twice() {
    for panel in ["check", "hemp-leaf-card"] {
        let plan = plan(crate::panel_support::panel(panel), &mut |_| {}).unwrap();
        let page = text(&Made::of(&plan, &mut |_| {}).unwrap(), "sheet.html");
        let steps = &plan.panel().unwrap().assembly.steps;
        assert!(steps.len() > 4);
        for step in steps {
            // Words of one step that no other has, short enough to stand on a line of a picture.
            let title = format!(": {}<", step.title);
            assert_eq!(page.matches(&title).count(), 1, "{panel}: {title}");
        }
    }
    for panel in ["demo", "check"] {
        let files = crate::panel_support::panel(panel);
        let plan = coupon_plan(files, CouponKind::Fit, &mut |_| {}).unwrap();
        let page = text(&Made::of(&plan, &mut |_| {}).unwrap(), "sheet.html");
        let page = page.replace("&#39;", "'");
        for line in plan.comb().unwrap().how_to_read() {
            assert_eq!(page.matches(line).count(), 1, "{panel}: {line}");
        }
    }
}

#[test]
fn a_name_stays_a_name() {
    let mut files = crate::panel_support::panel("plain-window");
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
    let [one, two] = [(), ()].map(|()| made(crate::panel_support::panel("check")));
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
    let mut table = Table::new("Rows", [Column::numbers("No."), Column::texts("Text")]);
    for k in 0..300 {
        table.row([k.to_string(), "a row".to_owned()]);
    }
    let rows = pages(&pdf(&document(vec![Block::Table(table)])).unwrap().bytes);
    assert!((5..=9).contains(&rows), "{rows} pages");
    // One cell of many lines, and one word wider than any page.
    let mut table = Table::new("Cells", [Column::numbers("No."), Column::texts("Text")]);
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
        Block::Table(Table::new("", [Column::texts("A")])),
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
