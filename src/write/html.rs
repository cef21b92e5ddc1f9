//! The workshop sheet as one HTML file that asks no network for anything: style and pictures stand in it.

use std::fmt::Write as _;

use super::svg::escaped;
use crate::document::{Block, Cells, Document, Figure, Page, Size, Table};

/// How it looks on a screen and in print.
const STYLE: &str = include_str!("html.css");

/// Writes a document.
#[must_use]
pub fn html(document: &Document) -> Vec<u8> {
    let title = escaped(&document.title);
    let mut out =
        String::from("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n");
    // Whatever a text may hold, nothing is fetched and nothing runs.
    out.push_str(
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src \
         'unsafe-inline'\">\n<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n",
    );
    // Writing to a string cannot fail.
    let _ = write!(
        out,
        "<title>{title}</title>\n<style>\n{STYLE}{}</style>\n</head>\n<body>\n<header><h1>{title}</h1>\
         </header>\n",
        pages(document)
    );
    out.push_str("<nav aria-label=\"Contents\">\n<ol>\n");
    for (n, section) in (1..).zip(&document.sections) {
        let _ = writeln!(
            out,
            "<li><a href=\"#part-{n}\">{}</a></li>",
            escaped(&section.title)
        );
    }
    out.push_str("</ol>\n</nav>\n<main>\n");
    let mut figures = 0;
    for (n, section) in (1..).zip(&document.sections) {
        let page = match section.page {
            Page::Upright => "upright",
            Page::Broad => "broad",
        };
        let _ = writeln!(
            out,
            "<section id=\"part-{n}\" class=\"{page}\" aria-labelledby=\"part-{n}-title\">\n\
             <h2 id=\"part-{n}-title\">{}</h2>",
            escaped(&section.title)
        );
        for block in &section.blocks {
            one(&mut out, block, &mut figures);
        }
        out.push_str("</section>\n");
    }
    out.push_str("</main>\n</body>\n</html>\n");
    out.into_bytes()
}

/// The rules of printed pages: which way the paper lies, and what stands at its head.
fn pages(document: &Document) -> String {
    let [short, long] = document.paper.size();
    let name = css_text(&document.title);
    let mut rules = String::new();
    for (page, width, height) in [("upright", short, long), ("broad", long, short)] {
        let _ = writeln!(
            rules,
            "@page {page} {{ size: {width}mm {height}mm; margin: 14mm 10mm 10mm;\n  \
             @top-left {{ content: \"{name}\"; font-size: 8pt; }}\n  \
             @top-right {{ content: \"page \" counter(page) \" of \" counter(pages); font-size: 8pt; }} }}"
        );
    }
    rules
}

/// A text within a string of CSS: all but letters, digits and spaces as escapes (CSS Syntax 3, 4.3.7).
fn css_text(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        if c.is_ascii_alphanumeric() || c == ' ' {
            out.push(c);
        } else if !c.is_control() {
            let _ = write!(out, "\\{:06x}", u32::from(c));
        }
    }
    out
}

fn one(out: &mut String, block: &Block, figures: &mut usize) {
    match block {
        Block::Heading(text) => {
            let _ = writeln!(out, "<h3>{}</h3>", escaped(text));
        }
        Block::Text(text) => {
            let _ = writeln!(out, "<p>{}</p>", escaped(text));
        }
        Block::Caution(text) => {
            let _ = writeln!(
                out,
                "<p class=\"caution\" role=\"note\">{}</p>",
                escaped(text)
            );
        }
        Block::Steps(first, steps) => {
            list(
                out,
                &format!("ol class=\"steps\" start=\"{first}\""),
                "ol",
                steps,
            );
        }
        Block::List(points) => list(out, "ul", "ul", points),
        Block::Table(t) => table(out, t),
        Block::Figure(f) => {
            *figures += 1;
            figure(out, f, *figures);
        }
    }
}

fn list(out: &mut String, open: &str, tag: &str, items: &[String]) {
    let _ = writeln!(out, "<{open}>");
    for item in items {
        let _ = writeln!(out, "<li>{}</li>", escaped(item));
    }
    let _ = writeln!(out, "</{tag}>");
}

/// Opens what is wider than a narrow screen: it scrolls by itself, with the keyboard too.
fn open_scroll(out: &mut String, label: &str) {
    let _ = writeln!(
        out,
        "<div class=\"scroll\" tabindex=\"0\" role=\"group\" aria-label=\"{}\">",
        escaped(label)
    );
}

fn table(out: &mut String, table: &Table) {
    open_scroll(out, &table.caption);
    out.push_str("<table>\n");
    if !table.caption.is_empty() {
        let _ = writeln!(out, "<caption>{}</caption>", escaped(&table.caption));
    }
    let class = |k: usize| {
        let number = table
            .columns
            .get(k)
            .is_some_and(|c| c.cells == Cells::Numbers);
        if number { " class=\"number\"" } else { "" }
    };
    out.push_str("<thead>\n<tr>");
    for (k, column) in table.columns.iter().enumerate() {
        let head = escaped(&column.head);
        let _ = write!(out, "<th scope=\"col\"{}>{head}</th>", class(k));
    }
    out.push_str("</tr>\n</thead>\n<tbody>\n");
    for row in &table.rows {
        out.push_str("<tr>");
        for (k, cell) in row.iter().enumerate() {
            let (tag, scope) = if k == 0 {
                ("th", " scope=\"row\"")
            } else {
                ("td", "")
            };
            let _ = write!(out, "<{tag}{scope}{}>{}</{tag}>", class(k), escaped(cell));
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody>\n</table>\n</div>\n");
}

fn figure(out: &mut String, figure: &Figure, number: usize) {
    let class = match figure.size {
        Size::Fit => "fit",
        Size::True => "true",
    };
    let _ = writeln!(out, "<figure class=\"{class}\">");
    open_scroll(out, &figure.alt);
    out.push_str(&inline(&figure.svg, &figure.alt, number, figure.size));
    out.push_str("</div>\n");
    if !figure.caption.is_empty() {
        let _ = writeln!(out, "<figcaption>{}</figcaption>", escaped(&figure.caption));
    }
    out.push_str("</figure>\n");
}

/// A picture within a page: without the head of a file of its own, told to those who cannot see it, and
/// with ids that no other picture of the page has.
fn inline(svg: &[u8], alt: &str, number: usize, size: Size) -> String {
    let svg = String::from_utf8_lossy(svg);
    let root = svg.find("<svg").and_then(|at| svg.get(at..)).unwrap_or("");
    let mut style = String::new();
    if size == Size::Fit {
        // As wide as it is, and no wider.
        let width = root
            .split("width=\"")
            .nth(1)
            .and_then(|w| w.split('"').next());
        style = format!(" style=\"max-width:{}\"", width.unwrap_or("100%"));
    }
    let told = format!("<svg role=\"img\" aria-label=\"{}\"{style}", escaped(alt));
    let root = root.replacen("<svg", &told, 1);
    let id = |before: &str| (before.to_owned(), format!("{before}figure-{number}-"));
    let marks = [id(" id=\""), id("=\"url(#"), id("href=\"#")];
    let mut out = root;
    for (before, after) in &marks {
        out = out.replace(before, after);
    }
    // The title would show as a label at the pointer; the page has its own words.
    match (out.find("<title>"), out.find("</title>")) {
        (Some(from), Some(to)) if from < to => {
            out.replace_range(from..to + "</title>".len(), "");
        }
        _ => {}
    }
    out
}
