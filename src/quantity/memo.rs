//! Answers that were worked out before: what a text means depends on nothing but the text, and reports repeat theirs.

use std::cell::RefCell;
use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};
use std::thread::LocalKey;

/// Answers kept; when they are more, all are dropped, so that memory stays flat however much is read.
const MOST: usize = 4096;
/// Bytes of a text that is worth keeping.
const LONGEST: usize = 200;

/// Answers of one thread, by their text.
pub(crate) type Answers<V> = RefCell<HashMap<String, V>>;

/// The answer to a text: the one kept, or else the one that `work` gives.
pub(crate) fn remembered<V: Clone>(
    answers: &'static LocalKey<Answers<V>>,
    text: &str,
    work: impl FnOnce(&str) -> V,
) -> V {
    if text.len() > LONGEST {
        return work(text);
    }
    let kept = answers.with(|answers| answers.try_borrow().ok().and_then(|kept| kept.get(text).cloned()));
    kept.unwrap_or_else(|| {
        let made = work(text);
        answers.with(|answers| {
            if let Ok(mut kept) = answers.try_borrow_mut() {
                put(&mut kept, text, &made);
            }
        });
        made
    })
}

fn put<V: Clone>(kept: &mut HashMap<String, V>, text: &str, made: &V) {
    if kept.len() >= MOST {
        kept.clear();
    }
    kept.insert(text.to_owned(), made.clone());
}

/// Answers that belong to one set of words. A copy of the words may be taught more, so it begins without any.
#[derive(Debug)]
pub(crate) struct Memory<V>(Mutex<HashMap<String, V>>);

impl<V> Default for Memory<V> {
    fn default() -> Self {
        Self(Mutex::default())
    }
}

impl<V> Clone for Memory<V> {
    fn clone(&self) -> Self {
        Self::default()
    }
}

impl<V: Clone> Memory<V> {
    /// The answer to a text: the one kept, or else the one that `work` gives.
    pub(crate) fn answer(&self, text: &str, work: impl FnOnce(&str) -> V) -> V {
        if text.len() > LONGEST {
            return work(text);
        }
        let kept = self.0.lock().unwrap_or_else(PoisonError::into_inner).get(text).cloned();
        kept.unwrap_or_else(|| {
            let made = work(text);
            put(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner), text, &made);
            made
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    thread_local! {
        static LENGTHS: Answers<usize> = RefCell::default();
    }

    #[test]
    fn a_text_is_worked_out_once_and_all_are_forgotten_in_time() {
        let length = |text: &str| text.len();
        assert_eq!(remembered(&LENGTHS, "abc", length), 3);
        assert_eq!(remembered(&LENGTHS, "abc", |_| 0), 3);
        for n in 0..=MOST {
            remembered(&LENGTHS, &n.to_string(), length);
        }
        assert_eq!(remembered(&LENGTHS, "abc", |_| 0), 0);
        let long = "x".repeat(LONGEST + 1);
        remembered(&LENGTHS, &long, length);
        assert_eq!(remembered(&LENGTHS, &long, |_| 0), 0);
    }

    #[test]
    fn a_copy_of_the_words_begins_without_answers() {
        let memory: Memory<usize> = Memory::default();
        assert_eq!(memory.answer("abc", |_| 3), 3);
        assert_eq!(memory.answer("abc", |_| 0), 3);
        assert_eq!(memory.clone().answer("abc", |_| 0), 0);
    }
}
