//! Blocks on leaves: each item of a leaf has its place, and nothing lies outside the margins.

use super::fonts::{Fonts, Look};
use super::picture::Picture;
use super::{HEAD, MARGIN, PdfError, room, table};
use crate::document::{Block, Document, Figure, Page, Size, Table};

/// Inks, as red, green and blue.
pub(super) const INK: &str = "2e2218";
pub(super) const FAINT: &str = "75675a";
pub(super) const SHADE: &str = "f1eadd";
pub(super) const ALERT: &str = "a3240f";

const TITLE: Look = Look::new(5.2).bold();
const HEADING: Look = Look::new(3.8).bold();
const BODY: Look = Look::new(3.2);
const SMALL: Look = Look::new(2.7);
/// Between blocks, and before a section's title, mm.
const GAP: f64 = 2.6;
const SECTION_GAP: f64 = 5.0;
/// Indent of what is listed, mm.
const INDENT: f64 = 6.0;
/// The same before a step: room for a box to tick and its number, mm.
const STEP_INDENT: f64 = 11.0;
/// A figure drawn smaller than this share of itself says so.
const AS_IT_IS: f64 = 0.995;
/// A picture becomes no smaller than this share of itself to stay on a leaf, or with its steps.
const SHRINK: f64 = 0.75;
/// Steps that take less than this share of a leaf stay together, and with their picture.
const STEPS: f64 = 0.4;
/// Below a title or heading, and between steps, mm.
const HEADED: f64 = 1.2;
const BETWEEN_STEPS: f64 = 0.6;
/// Round-off of sizes, mm.
pub(super) const ROUND_OFF: f64 = 0.01;

/// Something on a leaf. Lengths are mm from the leaf's upper left corner, y down.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Item {
    /// A line of text from the start of its base line.
    Text {
        at: [f64; 2],
        look: Look,
        ink: &'static str,
        text: String,
    },
    /// A straight line.
    Line {
        from: [f64; 2],
        to: [f64; 2],
        width: f64,
        ink: &'static str,
    },
    /// A filled rectangle from its upper left corner.
    Fill {
        at: [f64; 2],
        size: [f64; 2],
        ink: &'static str,
    },
    /// One of the pictures, from its upper left corner.
    Picture {
        index: usize,
        at: [f64; 2],
        size: [f64; 2],
    },
}

/// A page.
pub(super) struct Leaf {
    /// Width and height, mm.
    pub(super) size: [f64; 2],
    pub(super) items: Vec<Item>,
}

/// A document on its leaves.
pub(super) struct Flowed {
    pub(super) leaves: Vec<Leaf>,
    pub(super) pictures: Vec<Picture>,
    /// Title of each section, its leaf, and where on it.
    pub(super) marks: Vec<(String, usize, f64)>,
}

/// Leaves in the making.
pub(super) struct Flow<'a> {
    pub(super) fonts: &'a Fonts,
    done: Flowed,
    /// How many of the pictures have their place: the next figure is the picture of this index.
    placed: usize,
    size: [f64; 2],
    /// Where the next block begins, mm from the leaf's top.
    pub(super) y: f64,
}

/// Sets a document.
pub(super) fn flow(document: &Document, fonts: &Fonts) -> Result<Flowed, PdfError> {
    let [short, long] = document.paper.size();
    let size_of = |page: Page| match page {
        Page::Upright => [short, long],
        Page::Broad => [long, short],
    };
    let first = document.sections.first().map_or(Page::Upright, |s| s.page);
    let mut flow = Flow {
        fonts,
        done: Flowed {
            leaves: Vec::new(),
            pictures: pictures(document, fonts)?,
            marks: Vec::new(),
        },
        placed: 0,
        size: size_of(first),
        y: 0.0,
    };
    flow.leaf();
    for section in &document.sections {
        let size = size_of(section.page);
        if size != flow.size {
            flow.size = size;
            flow.leaf();
        }
        if !flow.at_top() {
            flow.y += SECTION_GAP;
        }
        flow.headed(&section.title, TITLE, &section.blocks)?;
        for (k, block) in section.blocks.iter().enumerate() {
            let rest = section.blocks.get(k + 1..).unwrap_or(&[]);
            if let Block::Steps(..) | Block::List(_) = block {
                // A few of them stay together.
                let these = section.blocks.get(k..).unwrap_or(&[]);
                flow.need(flow.steps(these) - GAP);
            }
            match block {
                Block::Heading(text) => flow.headed(text, HEADING, rest)?,
                Block::Text(text) => {
                    if let [Block::Table(next), ..] = rest {
                        flow.with_table(text, next);
                    }
                    flow.paragraph(text, BODY, INK, 0.0);
                }
                Block::Caution(text) => flow.caution(text),
                Block::Steps(first, steps) => {
                    for (n, step) in (*first..).zip(steps) {
                        flow.listed(&format!("\u{2610} {n}"), STEP_INDENT, step);
                    }
                }
                Block::List(points) => {
                    points
                        .iter()
                        .for_each(|point| flow.listed("•", INDENT, point));
                }
                Block::Table(t) => table::table(&mut flow, t),
                Block::Figure(figure) => flow.figure(figure, rest)?,
            }
            flow.y += GAP;
        }
    }
    Ok(flow.done)
}

/// All pictures of a document, in order.
fn pictures(document: &Document, fonts: &Fonts) -> Result<Vec<Picture>, PdfError> {
    let blocks = document.sections.iter().flat_map(|s| &s.blocks);
    let figures = blocks.filter_map(|block| match block {
        Block::Figure(figure) => Some(figure),
        _ => None,
    });
    figures.map(|figure| Picture::read(figure, fonts)).collect()
}

impl Flow<'_> {
    /// A new leaf.
    pub(super) fn leaf(&mut self) {
        self.done.leaves.push(Leaf {
            size: self.size,
            items: Vec::new(),
        });
        self.y = MARGIN[1] + HEAD;
    }

    fn at_top(&self) -> bool {
        self.y <= MARGIN[1] + HEAD
    }

    pub(super) fn left(&self) -> f64 {
        MARGIN[0]
    }

    /// Width and height for blocks, mm.
    pub(super) fn room(&self) -> [f64; 2] {
        room(self.size)
    }

    /// What is left of the leaf's height, mm.
    pub(super) fn free(&self) -> f64 {
        self.size[1] - MARGIN[1] - self.y
    }

    /// Goes to a new leaf where this one has not so much height left.
    pub(super) fn need(&mut self, height: f64) {
        if height > self.free() + ROUND_OFF && !self.at_top() {
            self.leaf();
        }
    }

    fn item(&mut self, item: Item) {
        if let Some(leaf) = self.done.leaves.last_mut() {
            leaf.items.push(item);
        }
    }

    pub(super) fn text(&mut self, at: [f64; 2], look: Look, ink: &'static str, text: String) {
        if !text.is_empty() {
            self.item(Item::Text {
                at,
                look,
                ink,
                text,
            });
        }
    }

    pub(super) fn line(&mut self, from: [f64; 2], to: [f64; 2], width: f64, ink: &'static str) {
        self.item(Item::Line {
            from,
            to,
            width,
            ink,
        });
    }

    pub(super) fn fill(&mut self, at: [f64; 2], size: [f64; 2], ink: &'static str) {
        self.item(Item::Fill { at, size, ink });
    }

    /// A title or heading, on the leaf on which what follows begins.
    fn headed(&mut self, text: &str, look: Look, next: &[Block]) -> Result<(), PdfError> {
        let [width, height] = self.room();
        let own = self.fonts.lines(text, look, width).len() as f64 * look.line() + HEADED;
        let least = self.least(next, height - own)?;
        self.need((own + least).min(height));
        if look == TITLE {
            let leaf = self.done.leaves.len() - 1;
            self.done.marks.push((text.to_owned(), leaf, self.y));
        }
        self.paragraph(text, look, INK, 0.0);
        self.y += HEADED;
        Ok(())
    }

    /// Keeps a text on the leaf on which the table that it leads to begins.
    fn with_table(&mut self, text: &str, next: &Table) {
        let [width, height] = self.room();
        let own = self.fonts.lines(text, BODY, width).len() as f64 * BODY.line() + GAP;
        let both = own + table::least_height(next, self.fonts, width);
        self.need(both.min(0.5 * height));
    }

    /// What the next blocks need at least where they begin, of so much height.
    fn least(&self, next: &[Block], height: f64) -> Result<f64, PdfError> {
        let width = self.room()[0];
        Ok(match next {
            [Block::Heading(text), rest @ ..] => {
                let lines = self.fonts.lines(text, HEADING, width).len() as f64;
                let own = lines * HEADING.line() + HEADED + GAP;
                own + self.least(rest, height - own)?
            }
            [Block::Table(t), ..] => table::least_height(t, self.fonts, width),
            [Block::Figure(figure), rest @ ..] => {
                // The first figure that follows is the next one to be placed.
                let natural = self.next_picture()?;
                let drawn = self.drawn(figure, natural, height, self.steps(rest))?;
                let part = if figure.size == Size::True {
                    1.0
                } else {
                    SHRINK
                };
                let below = self.below(figure, natural, [0.0, 0.0]);
                part * drawn[1] + below + self.steps(rest)
            }
            [Block::Steps(..) | Block::List(_), ..] => self.steps(next).max(2.0 * BODY.line()),
            [_, ..] => 2.0 * BODY.line(),
            [] => 0.0,
        })
    }

    /// Height of the steps or points that these blocks begin with, and of the gap before them; nothing where they
    /// are too many to stay together on a page.
    fn steps(&self, next: &[Block]) -> f64 {
        let (steps, indent) = match next {
            [Block::Steps(_, steps), ..] => (steps, STEP_INDENT),
            [Block::List(points), ..] => (points, INDENT),
            _ => return 0.0,
        };
        let [width, height] = self.room();
        let one = |step: &String| {
            let lines = self.fonts.lines(step, BODY, width - indent).len();
            lines as f64 * BODY.line() + BETWEEN_STEPS
        };
        let all = GAP + steps.iter().map(one).sum::<f64>();
        if all < STEPS * height { all } else { 0.0 }
    }

    /// A text, broken between lines where the leaf ends.
    pub(super) fn paragraph(&mut self, text: &str, look: Look, ink: &'static str, indent: f64) {
        for line in self.fonts.lines(text, look, self.room()[0] - indent) {
            self.need(look.line());
            let at = [self.left() + indent, self.y + look.ascent()];
            self.text(at, look, ink, line);
            self.y += look.line();
        }
    }

    fn listed(&mut self, mark: &str, indent: f64, text: &str) {
        self.need(BODY.line());
        let at = [self.left() + 1.0, self.y + BODY.ascent()];
        self.text(at, BODY.bold(), INK, mark.to_owned());
        self.paragraph(text, BODY, INK, indent);
        self.y += BETWEEN_STEPS;
    }

    fn caution(&mut self, text: &str) {
        let look = BODY.bold();
        for line in self.fonts.lines(text, look, self.room()[0] - INDENT) {
            self.need(look.line());
            self.fill([self.left(), self.y], [1.2, look.line()], ALERT);
            let at = [self.left() + INDENT - 2.0, self.y + look.ascent()];
            self.text(at, look, INK, line);
            self.y += look.line();
        }
    }

    /// How a picture of this `natural` size is drawn where so much height is free for it, what stands below it, and, if
    /// it need not become much smaller for that, what comes `after`: its width and height, mm.
    fn drawn(
        &self,
        figure: &Figure,
        natural @ [w, h]: [f64; 2],
        free: f64,
        after: f64,
    ) -> Result<[f64; 2], PdfError> {
        let width = self.room()[0];
        if figure.size == Size::True {
            let most = free - self.below(figure, natural, natural);
            if w > width + ROUND_OFF || h > most + ROUND_OFF {
                return Err(PdfError::TooLarge {
                    what: figure.alt.clone(),
                    size: natural,
                    room: [width, most],
                });
            }
            return Ok(natural);
        }
        let across = (width / w).min(1.0);
        // What is drawn smaller says so below, in a line more at most.
        let below = self.below(figure, natural, [0.0, 0.0]);
        let high = |free: f64| ((free - below) / h).min(across);
        let both = high(free - after);
        let scale = if both >= SHRINK * across {
            both
        } else {
            high(free)
        };
        Ok([scale * w, scale * h])
    }

    /// Height of what stands below a picture of this `natural` size that is drawn at a size, mm.
    fn below(&self, figure: &Figure, natural: [f64; 2], size: [f64; 2]) -> f64 {
        let text = under(figure, size[0] / natural[0]);
        if text.is_empty() {
            return 0.0;
        }
        let lines = self.fonts.lines(&text, SMALL, self.room()[0]).len();
        lines as f64 * SMALL.line() + 0.8
    }

    /// Width and height of the next picture to be placed as it is, mm.
    fn next_picture(&self) -> Result<[f64; 2], PdfError> {
        let next = self.done.pictures.get(self.placed);
        let no_picture = || PdfError::Writer("a figure without its picture".to_owned());
        next.map(|picture| picture.size).ok_or_else(no_picture)
    }

    fn figure(&mut self, figure: &Figure, next: &[Block]) -> Result<(), PdfError> {
        let natural = self.next_picture()?;
        let after = self.steps(next);
        let whole = self.drawn(figure, natural, self.room()[1], after)?;
        let below = self.below(figure, natural, whole);
        let mut size = whole;
        if whole[1] + below + after > self.free() + ROUND_OFF {
            // On this leaf, if it need not become much smaller for that.
            let here = self.drawn(figure, natural, self.free(), after);
            match here {
                Ok(here) if here[1] >= SHRINK * whole[1] => size = here,
                _ => self.leaf(),
            }
        }
        let at = [self.left() + 0.5 * (self.room()[0] - size[0]), self.y];
        let text = under(figure, size[0] / natural[0]);
        let index = self.placed;
        self.placed += 1;
        self.item(Item::Picture { index, at, size });
        self.y += size[1];
        if !text.is_empty() {
            self.y += 0.8;
            self.paragraph(&text, SMALL, FAINT, 0.0);
        }
        Ok(())
    }
}

/// What stands below a picture.
fn under(figure: &Figure, scale: f64) -> String {
    let smaller = if scale < AS_IT_IS {
        format!(
            "Drawn at {:.0} %: a scale named in it does not hold here.",
            100.0 * scale
        )
    } else {
        String::new()
    };
    let parts = [figure.caption.as_str(), smaller.as_str()];
    let told: Vec<&str> = parts.into_iter().filter(|p| !p.is_empty()).collect();
    told.join(" ")
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;
    use crate::document::Section;
    use crate::panel::Paper;

    fn figure(mm: f64) -> Block {
        let svg = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{mm}mm\" height=\"{mm}mm\"><rect width=\"9\" \
             height=\"9\"/></svg>"
        );
        Block::Figure(Figure {
            svg: svg.into(),
            alt: String::new(),
            caption: "below".into(),
            size: Size::True,
        })
    }

    /// Pictures are read once, and each figure gets its own: titles and headings that keep to the next figure look at
    /// it before it is placed.
    #[test]
    fn every_figure_has_its_own_picture() {
        let heading = || Block::Heading("heading".into());
        let section = |blocks| Section {
            title: "part".into(),
            page: Page::Upright,
            blocks,
        };
        // A title looks past two headings at the third figure, which is too tall for the rest of the leaf.
        let document = Document {
            title: "sizes".into(),
            paper: Paper::A4,
            sections: vec![
                section(vec![figure(31.0), Block::Text("text".into()), figure(72.0)]),
                section(vec![
                    heading(),
                    heading(),
                    figure(163.0),
                    heading(),
                    figure(14.0),
                ]),
                section(vec![figure(55.0)]),
            ],
        };
        let flowed = flow(&document, &Fonts::new().unwrap()).unwrap();
        let items = flowed.leaves.iter().flat_map(|leaf| &leaf.items);
        let drawn: Vec<(usize, f64)> = items
            .filter_map(|item| match item {
                Item::Picture { index, size, .. } => Some((*index, size[0])),
                _ => None,
            })
            .collect();
        let want = [31.0, 72.0, 163.0, 14.0, 55.0];
        assert_eq!(drawn.len(), want.len());
        for (k, ((index, width), want)) in drawn.into_iter().zip(want).enumerate() {
            assert_eq!(index, k);
            assert!((width - want).abs() < ROUND_OFF, "{width} for {want}");
            assert!((flowed.pictures[k].size[0] - want).abs() < ROUND_OFF);
        }
        let leaf_of = |mark: usize| flowed.marks[mark].1;
        assert_eq!(
            [leaf_of(0), leaf_of(1)],
            [0, 1],
            "the second title is with its picture"
        );
    }
}
