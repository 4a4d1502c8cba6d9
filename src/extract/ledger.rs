//! The account of numbers: every word with a digit ends as read, set aside for a named reason, or unread.

use crate::document::Document;
use std::collections::BTreeMap;

/// Position of a word in the document: part, page, line, word.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct WordId(pub u32);

/// How a number ended.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum End {
    /// Part of a figure or a sieve.
    Read,
    /// Set aside, and why.
    SetAside(&'static str),
    /// Not understood.
    Unread,
}

/// How many numbers a document holds, and how they ended.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Account {
    /// Words with a digit.
    pub numbers: usize,
    /// Read.
    pub read: usize,
    /// Set aside, by reason.
    pub set_aside: BTreeMap<String, usize>,
    /// Unread.
    pub unread: usize,
}

/// The account while a document is read.
#[derive(Clone, Debug, Default)]
pub struct Ledger {
    ends: Vec<Option<End>>,
}

impl Ledger {
    /// An account of all words of a document, none of them settled.
    pub fn new(document: &Document) -> Self {
        let mut ledger = Self::default();
        for line in document.parts.iter().flat_map(|p| &p.pages).flat_map(|p| &p.lines) {
            for word in &line.words {
                let number = word.text.chars().any(|c| c.is_numeric());
                ledger.ends.push(number.then_some(End::Unread));
            }
        }
        ledger
    }

    /// Settles words as read; what was set aside before becomes read.
    pub fn read(&mut self, words: &[WordId]) {
        for id in words {
            if let Some(Some(end)) = self.ends.get_mut(id.0 as usize) {
                *end = End::Read;
            }
        }
    }

    /// Sets words aside for a reason, unless they are read.
    pub fn set_aside(&mut self, words: &[WordId], reason: &'static str) {
        for id in words {
            if let Some(Some(end)) = self.ends.get_mut(id.0 as usize)
                && *end == End::Unread
            {
                *end = End::SetAside(reason);
            }
        }
    }

    /// How a word ended; none for a word without a number.
    pub fn end(&self, id: WordId) -> Option<&End> {
        self.ends.get(id.0 as usize).and_then(Option::as_ref)
    }

    /// Whether all numbers among the words are settled.
    pub fn settled(&self, words: &[WordId]) -> bool {
        words.iter().all(|&id| !matches!(self.end(id), Some(End::Unread)))
    }

    /// The account, closed.
    pub fn account(&self) -> Account {
        let mut account = Account::default();
        for end in self.ends.iter().flatten() {
            account.numbers += 1;
            match end {
                End::Read => account.read += 1,
                End::Unread => account.unread += 1,
                End::SetAside(reason) => *account.set_aside.entry((*reason).to_owned()).or_default() += 1,
            }
        }
        account
    }
}
