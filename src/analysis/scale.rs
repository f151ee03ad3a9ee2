//! The scale of the values: which categories there are, in which order, and which numbers they stand for.

use crate::study::Invalid;
use crate::study::Labels;

/// What may be done with the values.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ScaleKind {
    /// They are equal or not.
    #[default]
    Nominal,
    /// They have an order.
    Ordinal,
    /// They are numbers.
    Interval,
}

/// The scale of one analysis.
#[derive(Debug, Clone, PartialEq)]
pub struct Scale {
    kind: ScaleKind,
    categories: Vec<String>,
    category_of_value: Vec<u32>,
    numbers: Option<Vec<f64>>,
}

impl Scale {
    /// The scale of `values` as read: the `declared` categories in their order, else those seen, by number if all are
    /// numbers and by letter if not.
    ///
    /// # Errors
    /// A value that is not among the declared categories, a category declared twice, an order that nobody can know, or values that are no
    /// numbers on an interval scale.
    pub fn of(
        kind: ScaleKind,
        values: &Labels,
        declared: Option<&[String]>,
    ) -> Result<Self, Invalid> {
        let mut categories: Vec<String> = declared.unwrap_or(values.names()).to_vec();
        let seen_numbers = numbers_of(&categories);
        if declared.is_none() {
            match &seen_numbers {
                Some(_) => categories.sort_by(|a, b| number(a).total_cmp(&number(b))),
                None => categories.sort(),
            }
        }
        check_categories(&categories, values)?;
        check_kind(kind, &categories, declared.is_some())?;
        let category_of_value = values
            .names()
            .iter()
            .map(|value| {
                let place = categories.iter().position(|category| category == value);
                place
                    .and_then(|place| u32::try_from(place).ok())
                    .unwrap_or(0)
            })
            .collect();
        Ok(Self {
            kind,
            numbers: numbers_of(&categories),
            categories,
            category_of_value,
        })
    }

    /// What may be done with the values.
    pub fn kind(&self) -> ScaleKind {
        self.kind
    }

    /// The categories in their order.
    pub fn categories(&self) -> &[String] {
        &self.categories
    }

    /// The category of a value, by the value's number in the table it was read from.
    pub fn category(&self, value: u32) -> u32 {
        self.category_of_value
            .get(value as usize)
            .copied()
            .unwrap_or(0)
    }

    /// The numbers that the categories stand for in variances: their own on an interval or ordinal scale of numbers, 0 and 1 for
    /// two categories, and none for names without distances.
    pub fn numbers(&self) -> Option<Vec<f64>> {
        match self.kind {
            ScaleKind::Nominal if self.categories.len() == 2 => Some(vec![0.0, 1.0]),
            ScaleKind::Nominal => None,
            ScaleKind::Ordinal | ScaleKind::Interval => self.numbers.clone(),
        }
    }

    /// The distances of categories in weighted kappa: places on an ordinal scale, numbers on an interval scale.
    pub fn distances(&self) -> Option<Vec<f64>> {
        match self.kind {
            ScaleKind::Nominal => None,
            ScaleKind::Ordinal => Some(
                (0..self.categories.len())
                    .map(|place| place as f64)
                    .collect(),
            ),
            ScaleKind::Interval => self.numbers.clone(),
        }
    }

    /// Which category is the 'positive' one where there are two: `correct`, else `1`, else the first.
    pub fn positive(&self) -> usize {
        let place = |label: &str| {
            self.categories
                .iter()
                .position(|category| category == label)
        };
        place("correct").or_else(|| place("1")).unwrap_or(0)
    }
}

fn check_categories(categories: &[String], values: &Labels) -> Result<(), Invalid> {
    for (place, category) in categories.iter().enumerate() {
        if categories.iter().take(place).any(|other| other == category) {
            return Err(Invalid::new(
                format!("the category `{category}` is declared twice"),
                "name it once in --categories",
            ));
        }
    }
    match values
        .names()
        .iter()
        .find(|value| !categories.contains(value))
    {
        Some(value) => Err(Invalid::new(
            format!("the value `{value}` is none of the declared categories"),
            format!(
                "mend it in the file, or add it to --categories (now {})",
                categories.join(", ")
            ),
        )),
        None => Ok(()),
    }
}

fn check_kind(kind: ScaleKind, categories: &[String], declared: bool) -> Result<(), Invalid> {
    let not_a_number = categories
        .iter()
        .find(|category| !number(category).is_finite());
    let with_a_comma = categories
        .iter()
        .find(|category| has_decimal_comma(category));
    if let (false, Some(value)) = (declared, with_a_comma) {
        return Err(Invalid::new(
            format!("`{value}` looks like a number with a decimal comma"),
            format!(
                "write a decimal point instead of the comma: {}; or name the values with --categories if they are words",
                with_a_point(value)
            ),
        ));
    }
    match (kind, not_a_number) {
        (ScaleKind::Interval, Some(value)) => Err(Invalid::new(
            format!("`{value}` is no number, and an interval scale has numbers only"),
            if has_decimal_comma(value) {
                format!(
                    "write a decimal point instead of the comma: {}",
                    with_a_point(value)
                )
            } else {
                "write numbers, or use --scale nominal or ordinal".to_owned()
            },
        )),
        (ScaleKind::Ordinal, Some(_)) if !declared => Err(Invalid::new(
            "an ordinal scale of words has an order that only you know",
            format!(
                "give it from low to high with --categories (seen: {})",
                categories.join(",")
            ),
        )),
        _ => Ok(()),
    }
}

fn number(text: &str) -> f64 {
    text.parse().unwrap_or(f64::NAN)
}

fn numbers_of(categories: &[String]) -> Option<Vec<f64>> {
    let numbers: Vec<f64> = categories.iter().map(|category| number(category)).collect();
    numbers.iter().all(|n| n.is_finite()).then_some(numbers)
}

/// Whether a value is a number as many spreadsheets write it: `2,5`.
fn has_decimal_comma(value: &str) -> bool {
    !number(value).is_finite() && number(&with_a_point(value)).is_finite()
}

fn with_a_point(value: &str) -> String {
    value.replacen(',', ".", 1)
}
