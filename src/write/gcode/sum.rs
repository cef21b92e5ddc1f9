//! Arithmetic in a template: names of values and plain numbers with `+ - * /` and round brackets.
//!
//! ```text
//! sum    = term { ( "+" | "-" ) term }
//! term   = factor { ( "*" | "/" ) factor }
//! factor = [ "-" ] ( number | name | "(" sum ")" )
//! number = digits [ "." digits ]
//! ```
//!
//! `*` and `/` bind closer than `+` and `-`; equals go from the left. A sum is read once and kept as steps for a
//! stack, so that working it out takes as many steps as it has names, numbers and signs, and no more room.

use crate::limits::{SUM_BRACKETS, SUM_VALUES};

use super::language::is_name;

/// One step of working a sum out, on a stack of numbers.
#[derive(Debug, Clone, PartialEq)]
enum Step {
    Number(f64),
    Name(String),
    Negate,
    Two(Sign),
}

/// A sign between two numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Sign {
    Plus,
    Minus,
    Times,
    Over,
}

/// A sum whose form is right.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sum {
    steps: Vec<Step>,
}

impl Sum {
    /// Reads a sum.
    ///
    /// # Errors
    /// What is wrong with its form, or which limit it passes.
    pub(super) fn parse(said: &str) -> Result<Self, String> {
        let mut parser = Parser {
            rest: said.trim_start(),
            steps: Vec::new(),
            values: 0,
            depth: 0,
        };
        parser.sum()?;
        if parser.rest.is_empty() {
            Ok(Self {
                steps: parser.steps,
            })
        } else {
            Err(parser.wrong())
        }
    }

    /// Works the sum out; `value` knows the number behind a name.
    ///
    /// # Errors
    /// What `value` says, a division by nought, or a result that is no number.
    pub(super) fn work_out(
        &self,
        value: impl Fn(&str) -> Result<f64, String>,
    ) -> Result<f64, String> {
        let mut stack: Vec<f64> = Vec::new();
        for step in &self.steps {
            let next = match step {
                Step::Number(v) => Some(*v),
                Step::Name(name) => Some(value(name)?),
                Step::Negate => stack.pop().map(|v| -v),
                Step::Two(sign) => match (stack.pop(), stack.pop()) {
                    (Some(b), Some(a)) => Some(of_two(*sign, a, b)?),
                    _ => None,
                },
            };
            stack.push(next.ok_or("lacks a number")?);
        }
        match stack.as_slice() {
            [v] if v.is_finite() => Ok(*v),
            [_] => Err("is no number".into()),
            _ => Err("lacks a sign".into()),
        }
    }
}

fn of_two(sign: Sign, a: f64, b: f64) -> Result<f64, String> {
    Ok(match sign {
        Sign::Plus => a + b,
        Sign::Minus => a - b,
        Sign::Times => a * b,
        Sign::Over if b == 0.0 => return Err("divides by nought".into()),
        Sign::Over => a / b,
    })
}

struct Parser<'s> {
    rest: &'s str,
    steps: Vec<Step>,
    /// Names and numbers so far.
    values: usize,
    /// Brackets that are open.
    depth: usize,
}

impl<'s> Parser<'s> {
    fn sum(&mut self) -> Result<(), String> {
        self.term()?;
        while let Some(sign) = self.sign(&[('+', Sign::Plus), ('-', Sign::Minus)]) {
            self.term()?;
            self.steps.push(Step::Two(sign));
        }
        Ok(())
    }

    fn term(&mut self) -> Result<(), String> {
        self.factor()?;
        while let Some(sign) = self.sign(&[('*', Sign::Times), ('/', Sign::Over)]) {
            self.factor()?;
            self.steps.push(Step::Two(sign));
        }
        Ok(())
    }

    fn factor(&mut self) -> Result<(), String> {
        let negative = self.takes('-');
        if self.takes('(') {
            self.depth += 1;
            if self.depth > SUM_BRACKETS {
                return Err(format!("has brackets more than {SUM_BRACKETS} deep"));
            }
            self.sum()?;
            if !self.takes(')') {
                return Err(self.wrong());
            }
            self.depth -= 1;
        } else {
            let step = self.value()?;
            self.steps.push(step);
            self.values += 1;
            if self.values > SUM_VALUES {
                return Err(format!("has more than {SUM_VALUES} names and numbers"));
            }
        }
        if negative {
            self.steps.push(Step::Negate);
        }
        Ok(())
    }

    /// A name or a plain number.
    fn value(&mut self) -> Result<Step, String> {
        let of_word = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '.';
        let end = self.rest.find(|c| !of_word(c)).unwrap_or(self.rest.len());
        let (word, rest) = self.rest.split_at(end);
        let digits = |s: &str| !s.is_empty() && s.bytes().all(|b| b.is_ascii_digit());
        let plain = match word.split_once('.') {
            None => digits(word),
            Some((whole, rest)) => digits(whole) && digits(rest),
        };
        let step = if plain && word.len() <= LONGEST {
            word.parse().ok().map(Step::Number)
        } else if is_name(word) {
            Some(Step::Name(word.to_owned()))
        } else {
            None
        };
        let step = step.ok_or_else(|| self.wrong())?;
        self.rest = rest.trim_start();
        Ok(step)
    }

    fn sign(&mut self, signs: &[(char, Sign)]) -> Option<Sign> {
        let found = signs.iter().find(|(c, _)| self.rest.starts_with(*c))?;
        self.takes(found.0).then_some(found.1)
    }

    fn takes(&mut self, c: char) -> bool {
        match self.rest.strip_prefix(c) {
            Some(rest) => {
                self.rest = rest.trim_start();
                true
            }
            None => false,
        }
    }

    fn wrong(&self) -> String {
        "is neither the name of a value nor arithmetic of names and plain numbers (+ - * / and round brackets), and \
         nothing else is allowed there"
            .into()
    }
}

/// Characters of a number.
const LONGEST: usize = 15;

#[cfg(test)]
mod tests {
    use super::*;

    fn value(name: &str) -> Result<f64, String> {
        match name {
            "x" => Ok(12.5),
            "y" => Ok(-4.0),
            "none" => Ok(0.0),
            _ => Err(format!("there is no value `{name}`")),
        }
    }

    fn worked_out(said: &str) -> Result<f64, String> {
        Sum::parse(said)?.work_out(value)
    }

    /// The rules of arithmetic, by hand.
    #[test]
    fn sums_are_what_arithmetic_says() {
        for (said, want) in [
            ("x * 1000", 12_500.0),
            ("x+y", 8.5),
            ("x - y - 1", 15.5),
            ("2 + 3 * 4", 14.0),
            ("(2 + 3) * 4", 20.0),
            ("100 / 5 / 4", 5.0),
            ("100 / (5 * 4)", 5.0),
            ("-x", -12.5),
            ("2 * -y", 8.0),
            ("-(x + 0.5) / 2", -6.5),
            ("((((1))))", 1.0),
            ("7", 7.0),
            (" x\n* 2 ", 25.0),
        ] {
            assert_eq!(worked_out(said), Ok(want), "{said}");
        }
    }

    #[test]
    fn what_is_no_number_is_refused() {
        for (said, says) in [
            ("1 / 0", "by nought"),
            ("x / none", "by nought"),
            ("x / (y + 4)", "by nought"),
            ("z + 1", "no value `z`"),
        ] {
            let e = worked_out(said).expect_err(said);
            assert!(e.contains(says), "{said}: {e}");
        }
        let huge = Sum::parse("x * x").expect("sound");
        assert!(huge.work_out(|_| Ok(1e200)).is_err(), "beyond all numbers");
    }

    #[test]
    fn nothing_else_is_a_sum() {
        for said in [
            "", "x y", "x ** 2", "x // 2", "x % 2", "--x", "+x", "x +", "* x", "(x", "x)", "()",
            "1.", ".5", "1e3", "0x10", "x.y", "x(1)", "[x]", "x ~ y", "x if y", "not", "1_000",
            "__sum0", "x, y", "'x'",
        ] {
            assert!(Sum::parse(said).is_err(), "{said}");
        }
        let e = Sum::parse("9999999999999999").expect_err("16 digits");
        assert!(e.contains("plain numbers"), "{e}");
    }

    #[test]
    fn limits_are_those_that_are_named() {
        let deep = |n: usize| format!("{}x{}", "(".repeat(n), ")".repeat(n));
        assert!(Sum::parse(&deep(SUM_BRACKETS)).is_ok());
        let e = Sum::parse(&deep(SUM_BRACKETS + 1)).expect_err("a bracket more");
        assert!(e.contains("4 deep"), "{e}");
        let long = |n: usize| vec!["x"; n].join(" + ");
        assert!(Sum::parse(&long(SUM_VALUES)).is_ok());
        let e = Sum::parse(&long(SUM_VALUES + 1)).expect_err("a name more");
        assert!(e.contains("more than 16"), "{e}");
    }
}
