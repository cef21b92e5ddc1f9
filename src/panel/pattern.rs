//! Pattern files: which pieces fill a cell, as data.
//!
//! A pattern has a rule for each shape of cell that it fits. A rule may divide the cell with one piece first;
//! what is left on either side is a room like a cell. Its other pieces are segments between named points of
//! the room, each with a rule for its ends.

use super::reader::Table;
use super::values::Limits;

/// A pattern, read from its file.
#[derive(Debug, Clone, PartialEq)]
pub struct Pattern {
    /// What it is called.
    pub name: String,
    /// Where it comes from, in words.
    pub source: String,
    /// Its rules; the first whose shape a cell has counts.
    pub rules: Vec<PatternRule>,
}

/// How a pattern fills cells of one shape.
#[derive(Debug, Clone, PartialEq)]
pub struct PatternRule {
    /// The shape.
    pub shape: RuleShape,
    /// Whether every other cell, as on a chessboard, counts its corners from the second on.
    pub alternate: bool,
    /// A piece that is laid first, right through the cell, and divides it into two rooms.
    pub divide: Option<Divide>,
    /// The other pieces; those of a divided cell are laid in each of its rooms.
    pub pieces: Vec<PatternPiece>,
    /// Pairs of them that can be made as one hinged piece.
    pub hinges: Vec<Hinge>,
}

/// Two pieces that end in one point and can be made as one: sawn nearly through there and folded.
#[derive(Debug, Clone, PartialEq)]
pub struct Hinge {
    /// The other end of the first.
    pub from: PatternPoint,
    /// Where they meet.
    pub at: PatternPoint,
    /// The other end of the second.
    pub to: PatternPoint,
}

/// A piece that divides a cell.
#[derive(Debug, Clone, PartialEq)]
pub struct Divide {
    /// A point that it runs through.
    pub from: PatternPoint,
    /// Another.
    pub to: PatternPoint,
    /// Its face, in faces of the infill.
    pub face: f64,
}

/// A piece of a pattern: its centre line and its ends.
#[derive(Debug, Clone, PartialEq)]
pub struct PatternPiece {
    /// Whether it is laid once for each corner, which then is corner 1.
    pub each: bool,
    /// Where its centre line starts.
    pub from: PatternPoint,
    /// Where its centre line ends.
    pub to: PatternPoint,
    /// The rule for its start.
    pub start: EndRule,
    /// The rule for its end.
    pub end: EndRule,
    /// Its face, in faces of the infill.
    pub face: f64,
}

/// How a piece ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EndRule {
    /// It runs on to the faces of the bars, or of the piece that divides the cell.
    Bar,
    /// It meets the other pieces that end in this point in a seam.
    Seam,
    /// It stops at the face of the piece that runs through this point.
    Butt,
}

/// The shape of a cell by the centre lines of its bars.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum CellShape {
    /// Three corners.
    Triangle,
    /// Four equal sides, square to each other.
    Square,
    /// Four sides, square to each other.
    Rectangle,
    /// Four equal sides.
    Rhombus,
    /// Any other with four corners.
    Quadrilateral,
    /// Five corners.
    Pentagon,
    /// Six corners.
    Hexagon,
    /// More corners: how many.
    Corners(usize),
}

impl CellShape {
    /// In words.
    #[must_use]
    pub fn word(self) -> String {
        match self {
            Self::Triangle => "triangle".into(),
            Self::Square => "square".into(),
            Self::Rectangle => "rectangle".into(),
            Self::Rhombus => "rhombus".into(),
            Self::Quadrilateral => "quadrilateral".into(),
            Self::Pentagon => "pentagon".into(),
            Self::Hexagon => "hexagon".into(),
            Self::Corners(n) => format!("cell of {n} corners"),
        }
    }

    /// How many corners it has.
    #[must_use]
    pub fn corners(self) -> usize {
        match self {
            Self::Triangle => 3,
            Self::Square | Self::Rectangle | Self::Rhombus | Self::Quadrilateral => 4,
            Self::Pentagon => 5,
            Self::Hexagon => 6,
            Self::Corners(n) => n,
        }
    }
}

/// The shapes that a rule, or a feature of a panel, is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RuleShape {
    /// All.
    Any,
    /// One, with those that are special cases of it: a square is a rectangle.
    Of(CellShape),
}

impl RuleShape {
    /// Whether a cell of this shape is one of them.
    #[must_use]
    pub fn takes(self, cell: CellShape) -> bool {
        use CellShape::{Quadrilateral, Rectangle, Rhombus, Square};
        match self {
            Self::Any => true,
            Self::Of(Quadrilateral) => cell.corners() == 4,
            Self::Of(Rectangle) => matches!(cell, Rectangle | Square),
            Self::Of(Rhombus) => matches!(cell, Rhombus | Square),
            Self::Of(shape) => cell == shape,
        }
    }

    /// In words.
    #[must_use]
    pub fn word(self) -> String {
        match self {
            Self::Any => "any".into(),
            Self::Of(shape) => shape.word(),
        }
    }
}

/// A weighted mean of named points of a room.
#[derive(Debug, Clone, PartialEq)]
pub struct PatternPoint(pub Vec<(f64, NamedPoint)>);

/// A point of a room by its name. Corners are counted counter-clockwise from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NamedPoint {
    /// A corner.
    Corner(usize),
    /// The middle of the side from this corner to the next.
    Middle(usize),
    /// Where the bisectors of all corners meet.
    Incentre,
    /// The centre of its area.
    Centroid,
}

/// Most corners that a name can count to.
const MOST_CORNERS: usize = 24;

impl PatternPoint {
    /// Reads `corner 1`, `middle 2`, `incentre`, `centroid`, or a mean of them such as
    /// `1 corner 1 + 3 incentre`.
    ///
    /// # Errors
    /// Which part is wrong, in words.
    pub fn parse(text: &str) -> Result<Self, String> {
        text.split('+')
            .map(|part| term(part.trim()))
            .collect::<Result<Vec<_>, _>>()
            .map(Self)
    }
}

fn term(text: &str) -> Result<(f64, NamedPoint), String> {
    let mut words: Vec<&str> = text.split_whitespace().collect();
    let weight = match words.first().map(|w| (w, w.parse::<f64>())) {
        Some((_, Ok(weight))) => {
            words.remove(0);
            weight
        }
        _ => 1.0,
    };
    if !(weight > 0.0 && weight <= 1000.0) {
        return Err("a weight must be more than 0 and at most 1000".into());
    }
    let count = |word: &str| match word.parse::<usize>() {
        Ok(n) if (1..=MOST_CORNERS).contains(&n) => Ok(n),
        _ => Err(format!("`{word}` is no number of a corner, from 1")),
    };
    let point = match words.as_slice() {
        ["corner", k] => NamedPoint::Corner(count(k)?),
        ["middle", k] => NamedPoint::Middle(count(k)?),
        ["incentre"] => NamedPoint::Incentre,
        ["centroid"] => NamedPoint::Centroid,
        _ => return Err(format!("`{text}` names no point")),
    };
    Ok((weight, point))
}

const SHAPES: [(&str, RuleShape); 8] = [
    ("triangle", RuleShape::Of(CellShape::Triangle)),
    ("square", RuleShape::Of(CellShape::Square)),
    ("rectangle", RuleShape::Of(CellShape::Rectangle)),
    ("rhombus", RuleShape::Of(CellShape::Rhombus)),
    ("quadrilateral", RuleShape::Of(CellShape::Quadrilateral)),
    ("pentagon", RuleShape::Of(CellShape::Pentagon)),
    ("hexagon", RuleShape::Of(CellShape::Hexagon)),
    ("any", RuleShape::Any),
];

/// The shape under `key`, which must be there; `also` is what else could stand there.
pub(super) fn read_shape(t: &mut Table<'_>, key: &'static str, also: &str) -> RuleShape {
    t.choice(key, &SHAPES, also).unwrap_or(RuleShape::Any)
}

const FACES: Limits = Limits::above_zero(10.0, "faces of the infill");

/// Takes a pattern file's keys.
pub(super) fn read_pattern(t: &mut Table<'_>) -> Pattern {
    Pattern {
        name: t.name(),
        source: t.line("source"),
        rules: t.tables("rule", read_rule),
    }
}

fn read_rule(t: &mut Table<'_>) -> PatternRule {
    let shape = read_shape(t, "shape", "");
    let alternate = t.flag_or("alternate", false);
    let divide = t.table_opt("divide", |d| Divide {
        from: read_point(d, "from"),
        to: read_point(d, "to"),
        face: d.number_or("face", 1.0, &FACES),
    });
    let pieces = t.tables_opt("piece", |p| {
        let ends = [
            ("bar", EndRule::Bar),
            ("seam", EndRule::Seam),
            ("butt", EndRule::Butt),
        ];
        PatternPiece {
            each: p.flag_or("each", false),
            from: read_point(p, "from"),
            to: read_point(p, "to"),
            start: p.choice("start", &ends, "").unwrap_or(EndRule::Bar),
            end: p.choice("end", &ends, "").unwrap_or(EndRule::Bar),
            face: p.number_or("face", 1.0, &FACES),
        }
    });
    let hinges = t.tables_opt("hinge", |h| Hinge {
        from: read_point(h, "from"),
        at: read_point(h, "at"),
        to: read_point(h, "to"),
    });
    PatternRule {
        shape,
        alternate,
        divide,
        pieces,
        hinges,
    }
}

fn read_point(t: &mut Table<'_>, key: &'static str) -> PatternPoint {
    let text = t.line(key);
    if text.is_empty() {
        return PatternPoint(Vec::new());
    }
    PatternPoint::parse(&text).unwrap_or_else(|wrong| {
        let hint = "write \"corner 1\", \"middle 1\", \"incentre\", \"centroid\", or a mean such as \
                    \"1 corner 1 + 3 incentre\"";
        t.fault(key, format!("`{key}`: {wrong}"), hint);
        PatternPoint(Vec::new())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_are_read_as_written() {
        let point = |text| PatternPoint::parse(text).map(|p| p.0);
        assert_eq!(
            point("1 corner 1 + 2.5 incentre"),
            Ok(vec![
                (1.0, NamedPoint::Corner(1)),
                (2.5, NamedPoint::Incentre)
            ])
        );
        assert_eq!(point("middle 3"), Ok(vec![(1.0, NamedPoint::Middle(3))]));
        for wrong in [
            "",
            "corner",
            "corner 0",
            "0 incentre",
            "side 1",
            "corner 1 +",
            "nan incentre",
        ] {
            assert!(point(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn a_square_is_a_rectangle_a_rhombus_and_a_quadrilateral() {
        let takes = |rule, cell| RuleShape::Of(rule).takes(cell);
        for rule in [
            CellShape::Rectangle,
            CellShape::Rhombus,
            CellShape::Quadrilateral,
        ] {
            assert!(takes(rule, CellShape::Square));
            assert!(!takes(rule, CellShape::Triangle));
            assert!(!takes(CellShape::Square, rule));
        }
        assert!(!takes(CellShape::Rhombus, CellShape::Rectangle));
    }
}
