//! Runs that were made in this process, by all the numbers that went into them.
//!
//! A search for a cure, or a folder of builds that differ in a title, asks for the same run many times. What comes of a run
//! follows from its numbers alone, so that it does not matter who made it first.

use std::collections::HashMap;
use std::fmt::{Debug, Write};
use std::hash::{DefaultHasher, Hasher};
use std::sync::{Arc, LazyLock, Mutex, OnceLock, PoisonError};

/// At most twice so many runs are remembered, the oldest forgotten first: some megabytes.
const MOST: usize = 2048;

/// The numbers of a run, as two hashes of all its digits: two runs in a million share a key by chance once in 10^26 times.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) struct Key([u64; 2]);

struct Digits([DefaultHasher; 2]);

impl Write for Digits {
    fn write_str(&mut self, text: &str) -> std::fmt::Result {
        for hasher in &mut self.0 {
            hasher.write(text.as_bytes());
        }
        Ok(())
    }
}

impl Key {
    /// The key of all that a value shows of itself; numbers are written so that each has digits of its own.
    pub fn of(value: &impl Debug) -> Self {
        let mut second = DefaultHasher::new();
        second.write_u8(1);
        let mut digits = Digits([DefaultHasher::new(), second]);
        // Hashing takes everything.
        let _ = write!(digits, "{value:?}");
        Self(digits.0.map(|hasher| hasher.finish()))
    }
}

type Cell<T> = Arc<OnceLock<T>>;

struct Generations<T> {
    young: HashMap<Key, Cell<T>>,
    old: HashMap<Key, Cell<T>>,
}

/// What was made, by its key.
pub(super) struct Memory<T: 'static>(LazyLock<Mutex<Generations<T>>>);

impl<T: Clone> Memory<T> {
    /// Nothing yet.
    pub const fn new() -> Self {
        Self(LazyLock::new(|| Mutex::new(Generations { young: HashMap::new(), old: HashMap::new() })))
    }

    fn cell(&self, key: Key) -> Cell<T> {
        // A panic elsewhere leaves the tables whole.
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(cell) = all.young.get(&key) {
            return cell.clone();
        }
        let cell = all.old.get(&key).cloned().unwrap_or_default();
        if all.young.len() >= MOST {
            all.old = std::mem::take(&mut all.young);
        }
        all.young.insert(key, cell.clone());
        cell
    }

    /// What was made, or is made now. Who asks meanwhile for the same waits for it.
    pub fn get(&self, key: Key, make: impl FnOnce() -> T) -> T {
        self.cell(key).get_or_init(make).clone()
    }

    /// What was made, if it was.
    pub fn known(&self, key: Key) -> Option<T> {
        let all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        all.young.get(&key).or_else(|| all.old.get(&key))?.get().cloned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_that_differs_in_its_last_digit_has_a_key_of_its_own() {
        let next = f64::from_bits(1.0_f64.to_bits() + 1);
        assert_ne!(Key::of(&1.0), Key::of(&next));
        assert_ne!(Key::of(&0.0), Key::of(&-0.0));
        assert_eq!(Key::of(&(1.0, "a")), Key::of(&(1.0, "a")));
    }

    #[test]
    fn what_was_made_is_not_made_again_and_the_oldest_is_forgotten() {
        let memory: Memory<usize> = Memory::new();
        let key = |i: usize| Key::of(&i);
        assert_eq!(memory.get(key(0), || 7), 7);
        assert_eq!(memory.get(key(0), || unreachable!("it was made")), 7);
        for i in 1..=2 * MOST {
            memory.get(key(i), || i);
        }
        assert_eq!(memory.known(key(0)), None);
        assert_eq!(memory.known(key(2 * MOST)), Some(2 * MOST));
    }
}
