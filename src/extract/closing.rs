//! The end of a document: each number's end goes to the record or the file, and so does what the reader noticed.

use super::Extraction;
use super::ledger::{End, Ledger, WordId};
use super::scope::Draft;
use crate::document::{Document, NoticeKind};
use crate::place::Where;
use crate::record::{Doubt, SetAside, Unread};

/// Gives the drafts their unread lines and the doubts of the whole file.
pub fn close(document: &Document, ledger: &Ledger, drafts: Vec<Draft>, line_words: &[Vec<WordId>]) -> Extraction {
    let mut extraction = Extraction { account: ledger.account(), drafts, ..Extraction::default() };
    let mut at = 0usize;
    for part in &document.parts {
        for line in part.pages.iter().flat_map(|p| &p.lines) {
            let Some(ids) = line_words.get(at) else { break };
            let number = u32::try_from(at).unwrap_or(u32::MAX);
            at += 1;
            let mut unread: Option<Where> = None;
            for (word, id) in line.words.iter().zip(ids) {
                match ledger.end(*id) {
                    Some(End::Unread) => {
                        unread.get_or_insert_with(|| word.place.clone());
                    }
                    Some(End::SetAside(reason)) => extraction.set_aside.push(SetAside {
                        text: word.text.trim().to_owned(),
                        reason: (*reason).to_owned(),
                        place: word.place.clone(),
                    }),
                    _ => {}
                }
            }
            let Some(place) = unread else { continue };
            let entry = Unread { text: line.text(), place };
            let owners: Vec<usize> = extraction
                .drafts
                .iter()
                .enumerate()
                .filter(|(_, d)| d.lines.is_some_and(|(low, high)| low <= number && number <= high))
                .map(|(i, _)| i)
                .collect();
            let owner = match (extraction.drafts.len(), owners.as_slice()) {
                (1, _) => Some(0),
                (_, [one]) => Some(*one),
                _ => None,
            };
            match owner.and_then(|i| extraction.drafts.get_mut(i)) {
                Some(draft) => draft.unread.push(entry),
                None => extraction.unread.push(entry),
            }
        }
    }
    for notice in &document.notices {
        let code = match notice.kind {
            NoticeKind::HiddenContent => "hidden-content",
            NoticeKind::Encoding => "encoding",
            NoticeKind::UnreadableAttachment => "unreadable-attachment",
            NoticeKind::UnmappedText => "unmapped-text",
            NoticeKind::FormulaWithoutValue => "formula-without-value",
            NoticeKind::Damaged => "damaged-file",
        };
        let doubt = Doubt::new(code, None, notice.text.clone(), &notice.place);
        if extraction.drafts.is_empty() {
            extraction.doubts.push(doubt.clone());
        }
        for draft in &mut extraction.drafts {
            draft.doubts.push(doubt.clone());
        }
    }
    extraction
}
