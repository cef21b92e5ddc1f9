//! Rows that are known by typed ids: an id of one kind of row finds no row of another kind, and none that is not
//! there is taken for a default.

use std::fmt;
use std::hash::{Hash, Hasher};
use std::marker::PhantomData;
use std::ops::{Index, IndexMut};

/// The place of a row in a [`Table`] of rows of type `T`, from 0. Only a table makes one.
pub struct Id<T> {
    index: usize,
    of: PhantomData<fn() -> T>,
}

impl<T> Id<T> {
    const fn new(index: usize) -> Self {
        Self {
            index,
            of: PhantomData,
        }
    }

    /// The place, from 0.
    #[must_use]
    pub const fn index(self) -> usize {
        self.index
    }
}

// By hand: a derive would ask the same of `T`.
impl<T> Clone for Id<T> {
    fn clone(&self) -> Self {
        *self
    }
}

impl<T> Copy for Id<T> {}

impl<T> PartialEq for Id<T> {
    fn eq(&self, other: &Self) -> bool {
        self.index == other.index
    }
}

impl<T> Eq for Id<T> {}

impl<T> PartialOrd for Id<T> {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl<T> Ord for Id<T> {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.index.cmp(&other.index)
    }
}

impl<T> Hash for Id<T> {
    fn hash<H: Hasher>(&self, state: &mut H) {
        self.index.hash(state);
    }
}

impl<T> fmt::Debug for Id<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", kind::<T>(), self.index)
    }
}

/// The name of a type without its path.
fn kind<T>() -> &'static str {
    let path = std::any::type_name::<T>();
    // What a type is made of stands behind its name.
    let path = path.split_once('<').map_or(path, |(name, _)| name);
    path.rsplit("::").next().unwrap_or(path)
}

/// Rows in order, each known by its [`Id`].
#[derive(Clone, PartialEq)]
pub struct Table<T> {
    rows: Vec<T>,
}

impl<T> Table<T> {
    /// A table without rows.
    #[must_use]
    pub const fn new() -> Self {
        Self { rows: Vec::new() }
    }

    /// Adds a row at the end.
    pub fn push(&mut self, row: T) -> Id<T> {
        self.rows.push(row);
        Id::new(self.rows.len() - 1)
    }

    /// The id that the next row will have: for rows that name each other.
    #[must_use]
    pub fn next_id(&self) -> Id<T> {
        Id::new(self.rows.len())
    }

    /// These values for the rows, in their order; `None` where there are more or fewer.
    pub fn column_of<V>(&self, values: impl IntoIterator<Item = V>) -> Option<Column<T, V>> {
        let values: Vec<V> = values.into_iter().collect();
        let of = PhantomData;
        (values.len() == self.rows.len()).then_some(Column { values, of })
    }

    /// A table of rows, and the values that come with them as a column.
    pub fn with_column<V>(rows: impl IntoIterator<Item = (T, V)>) -> (Self, Column<T, V>) {
        let (rows, values) = rows.into_iter().unzip();
        (
            Self { rows },
            Column {
                values,
                of: PhantomData,
            },
        )
    }

    /// How many rows there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// The id of the row at a place, from 0; `None` where there is no such row.
    #[must_use]
    pub fn id(&self, index: usize) -> Option<Id<T>> {
        (index < self.rows.len()).then(|| Id::new(index))
    }

    /// The row of an id that may come from another table; `None` where there is no such row.
    #[must_use]
    pub fn get(&self, id: Id<T>) -> Option<&T> {
        self.rows.get(id.index)
    }

    /// All ids, in order.
    pub fn ids(&self) -> impl DoubleEndedIterator<Item = Id<T>> + ExactSizeIterator + use<T> {
        (0..self.rows.len()).map(Id::new)
    }

    /// All rows, in order.
    pub fn iter(&self) -> std::slice::Iter<'_, T> {
        self.rows.iter()
    }

    /// All rows, in order, to be changed.
    pub fn iter_mut(&mut self) -> std::slice::IterMut<'_, T> {
        self.rows.iter_mut()
    }

    /// All rows with their ids, in order.
    pub fn entries(&self) -> impl DoubleEndedIterator<Item = (Id<T>, &T)> + ExactSizeIterator {
        let rows = self.rows.iter().enumerate();
        rows.map(|(index, row)| (Id::new(index), row))
    }

    /// The rows alone.
    #[must_use]
    pub fn rows(&self) -> &[T] {
        &self.rows
    }

    /// A value for every row.
    pub fn column<'a, V>(&'a self, mut value: impl FnMut(Id<T>, &'a T) -> V) -> Column<T, V> {
        Column {
            values: self.entries().map(|(id, row)| value(id, row)).collect(),
            of: PhantomData,
        }
    }

    /// A value for every row, where each can be made.
    ///
    /// # Errors
    /// The first one that cannot.
    pub fn try_column<'a, V, E>(
        &'a self,
        mut value: impl FnMut(Id<T>, &'a T) -> Result<V, E>,
    ) -> Result<Column<T, V>, E> {
        let values = self.entries().map(|(id, row)| value(id, row));
        Ok(Column {
            values: values.collect::<Result<_, E>>()?,
            of: PhantomData,
        })
    }
}

impl<T> Default for Table<T> {
    fn default() -> Self {
        Self::new()
    }
}

impl<T: fmt::Debug> fmt::Debug for Table<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.rows.fmt(f)
    }
}

impl<T> From<Vec<T>> for Table<T> {
    fn from(rows: Vec<T>) -> Self {
        Self { rows }
    }
}

impl<T> FromIterator<T> for Table<T> {
    fn from_iter<I: IntoIterator<Item = T>>(rows: I) -> Self {
        Self {
            rows: rows.into_iter().collect(),
        }
    }
}

impl<T> IntoIterator for Table<T> {
    type Item = T;
    type IntoIter = std::vec::IntoIter<T>;

    fn into_iter(self) -> Self::IntoIter {
        self.rows.into_iter()
    }
}

impl<'a, T> IntoIterator for &'a mut Table<T> {
    type Item = &'a mut T;
    type IntoIter = std::slice::IterMut<'a, T>;

    fn into_iter(self) -> Self::IntoIter {
        self.rows.iter_mut()
    }
}

impl<'a, T> IntoIterator for &'a Table<T> {
    type Item = &'a T;
    type IntoIter = std::slice::Iter<'a, T>;

    fn into_iter(self) -> Self::IntoIter {
        self.rows.iter()
    }
}

/// # Panics
/// On an id that a longer table of the same kind has made: a fault of this program, told as one, after which nothing
/// is written.
impl<T> Index<Id<T>> for Table<T> {
    type Output = T;

    fn index(&self, id: Id<T>) -> &T {
        // Ids come from tables alone: one that is not here is worth a stop, as documented above.
        &self.rows[id.index]
    }
}

/// # Panics
/// As reading does.
impl<T> IndexMut<Id<T>> for Table<T> {
    fn index_mut(&mut self, id: Id<T>) -> &mut T {
        // As above.
        &mut self.rows[id.index]
    }
}

/// A value for every row of a [`Table`] of `T`, known by the same ids. Only a table makes one.
pub struct Column<T, V> {
    values: Vec<V>,
    of: PhantomData<fn() -> T>,
}

impl<T, V> Column<T, V> {
    /// The value of an id that may come from another table; `None` where there is no such row.
    #[must_use]
    pub fn get(&self, id: Id<T>) -> Option<&V> {
        self.values.get(id.index)
    }

    /// All values, in the order of the rows.
    pub fn iter(&self) -> std::slice::Iter<'_, V> {
        self.values.iter()
    }

    /// All values, in the order of the rows, to be changed.
    pub fn iter_mut(&mut self) -> std::slice::IterMut<'_, V> {
        self.values.iter_mut()
    }

    /// The values alone.
    #[must_use]
    pub fn values(&self) -> &[V] {
        &self.values
    }

    /// Another value for every row.
    pub fn column<'a, W>(&'a self, mut value: impl FnMut(Id<T>, &'a V) -> W) -> Column<T, W> {
        Column {
            values: self.entries().map(|(id, old)| value(id, old)).collect(),
            of: PhantomData,
        }
    }

    /// All values with the ids of their rows, in order.
    pub fn entries(&self) -> impl DoubleEndedIterator<Item = (Id<T>, &V)> + ExactSizeIterator {
        let values = self.values.iter().enumerate();
        values.map(|(index, value)| (Id::new(index), value))
    }

    /// Another column, each value made of the one here.
    pub fn map<W>(self, value: impl FnMut(V) -> W) -> Column<T, W> {
        Column {
            values: self.values.into_iter().map(value).collect(),
            of: PhantomData,
        }
    }
}

impl<T, V> IntoIterator for Column<T, V> {
    type Item = V;
    type IntoIter = std::vec::IntoIter<V>;

    fn into_iter(self) -> Self::IntoIter {
        self.values.into_iter()
    }
}

/// The column of a table without rows.
impl<T, V> Default for Column<T, V> {
    fn default() -> Self {
        Self {
            values: Vec::new(),
            of: PhantomData,
        }
    }
}

impl<'a, T, V> IntoIterator for &'a Column<T, V> {
    type Item = &'a V;
    type IntoIter = std::slice::Iter<'a, V>;

    fn into_iter(self) -> Self::IntoIter {
        self.values.iter()
    }
}

impl<T, V: Clone> Clone for Column<T, V> {
    fn clone(&self) -> Self {
        Self {
            values: self.values.clone(),
            of: PhantomData,
        }
    }
}

impl<T, V: PartialEq> PartialEq for Column<T, V> {
    fn eq(&self, other: &Self) -> bool {
        self.values == other.values
    }
}

impl<T, V: Eq> Eq for Column<T, V> {}

impl<T, V: Ord> PartialOrd for Column<T, V> {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl<T, V: Ord> Ord for Column<T, V> {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.values.cmp(&other.values)
    }
}

impl<T, V: fmt::Debug> fmt::Debug for Column<T, V> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.values.fmt(f)
    }
}

/// # Panics
/// As a [`Table`] does.
impl<T, V> Index<Id<T>> for Column<T, V> {
    type Output = V;

    fn index(&self, id: Id<T>) -> &V {
        // As in a table.
        &self.values[id.index]
    }
}

/// # Panics
/// As a [`Table`] does.
impl<T, V> IndexMut<Id<T>> for Column<T, V> {
    fn index_mut(&mut self, id: Id<T>) -> &mut V {
        // As in a table.
        &mut self.values[id.index]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_find_their_rows_and_columns_follow() {
        let mut table = Table::new();
        let [a, b] = ["a", "bcd"].map(|row| table.push(row));
        assert_eq!((table[a], table[b]), ("a", "bcd"));
        let lengths = table.column(|_, row| row.len());
        assert_eq!((lengths[a], lengths[b]), (1, 3));
        assert_eq!(table.ids().collect::<Vec<_>>(), [a, b]);
        assert_eq!(table.id(1), Some(b));
        assert_eq!(table.id(2), None);
        assert_eq!(table.get(b), Some(&"bcd"));
        let one: Table<&str> = vec!["a"].into();
        assert_eq!(one.get(b), None, "an id of a longer table");
        let odd = table.try_column(|_, row| if row.len() < 2 { Ok(()) } else { Err(*row) });
        assert_eq!(odd, Err("bcd"));
        assert_eq!(format!("{b:?}"), "&str 1");
        assert_eq!(
            table.column_of([1, 2]),
            Some(table.column(|id, _| id.index() + 1))
        );
        assert_eq!(table.column_of([1]), None);
        let next = table.next_id();
        assert_eq!(table.push("e"), next);
        let (table, numbers) = Table::with_column([("f", 6), ("g", 7)]);
        let twice = numbers.map(|n| 2 * n);
        let told: Vec<(&str, i32)> = table.entries().map(|(id, row)| (*row, twice[id])).collect();
        assert_eq!(told, [("f", 12), ("g", 14)]);
    }

    #[test]
    #[should_panic(expected = "index out of bounds")]
    fn an_id_of_a_longer_table_stops_the_program() {
        let long: Table<u8> = vec![1, 2, 3].into();
        let short: Table<u8> = vec![1].into();
        let last = long.ids().next_back();
        if let Some(last) = last {
            let _ = short[last];
        }
    }
}
