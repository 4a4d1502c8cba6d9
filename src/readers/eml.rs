//! Mail: the four lines of its head that a reader sees, its body, and its attachments through the same readers.
//!
//! The first page of a mail's part is its head, each line placed by its number in the file; the pages after it are
//! the body, whose lines count from 1 in the decoded text.

use super::kit::content::Content;
use super::kit::encoding::decode;
use super::{Input, ReadError, ReadOptions, ReadOutput, html, place_in_part, read_at_depth, text};
use crate::document::{Line, Notice, NoticeKind, Page, Part};
use crate::place::Where;
use mail_parser::decoders::{base64::base64_decode, quoted_printable::quoted_printable_decode};
use mail_parser::{Address, Encoding, Message, MessageParser, MessagePart, MimeHeaders, PartType};
use std::collections::BTreeSet;
use std::sync::Arc;

/// Head lines that only the machines of mail write.
const MACHINE_LINES: [&str; 8] = [
    "mime-version",
    "content-type",
    "message-id",
    "received",
    "return-path",
    "delivered-to",
    "content-transfer-encoding",
    "dkim-signature",
];
/// Bytes of the file that are searched for them.
const HEAD_BYTES: usize = 64 << 10;
const PEOPLE_LINES: [&str; 5] = ["from", "to", "date", "subject", "cc"];

pub(super) fn sniff(input: &Input<'_>) -> bool {
    // Attachments may come as bare bytes, and then the whole is no text.
    if !matches!(input.content, Content::Text(_) | Content::Binary) {
        return false;
    }
    let head = String::from_utf8_lossy(input.bytes.get(..HEAD_BYTES.min(input.bytes.len())).unwrap_or_default());
    let mut machine = 0;
    let mut people = 0;
    for line in head.trim_start_matches(['\r', '\n']).lines().take(200) {
        if line.trim().is_empty() {
            break;
        }
        if line.starts_with([' ', '\t']) || line.starts_with("From ") {
            continue;
        }
        let Some((name, _)) = line.split_once(':') else { return false };
        let name = name.to_ascii_lowercase();
        if name.is_empty() || !name.bytes().all(|b| b.is_ascii_graphic()) {
            return false;
        }
        machine += usize::from(MACHINE_LINES.contains(&name.as_str()));
        people += usize::from(PEOPLE_LINES.contains(&name.as_str()));
    }
    // A mail pasted into a text file has the people's lines too, and stays text.
    if input.extension == "eml" { machine + people >= 1 } else { machine >= 1 && people >= 1 }
}

pub(super) fn read(input: &Input<'_>, options: &ReadOptions) -> Result<ReadOutput, ReadError> {
    let Some(message) = MessageParser::default().parse(input.bytes) else {
        return Err(ReadError::new(
            "not-a-mail",
            "the file begins like a mail, but has no readable head; save it again as .eml",
        ));
    };
    let mut output = ReadOutput::default();
    let mut pages = vec![head(&message, input.bytes)];
    let (body, body_parts) = body(&message, input.bytes, &mut output.notices);
    pages.extend(body);
    let body_is_empty = pages.iter().skip(1).all(|page| page.lines.is_empty());
    output.parts.push(Part { pages, ..Part::default() });

    let mut names = BTreeSet::new();
    let mut options = options.clone();
    let mut left_over = 0_usize;
    let mut pictures = Vec::new();
    let mut count = 0_usize;
    for (index, part) in message.parts.iter().enumerate() {
        if body_parts.contains(&index) || !is_attachment(&message, index, part) {
            continue;
        }
        let name: Arc<str> = unused_name(part, count + 1, &mut names).into();
        if is_inline_picture(part) {
            pictures.push(name);
            continue;
        }
        count += 1;
        if count > options.limits.attachments {
            left_over += 1;
            continue;
        }
        attach(&mut output, &name, part, input, &mut options);
    }
    if left_over > 0 {
        let text = format!("{left_over} attachments after the first {} were not read", options.limits.attachments);
        output.notices.push(Notice { kind: NoticeKind::UnreadableAttachment, text, place: Where::default() });
    }
    if body_is_empty && count == 0 {
        for name in pictures {
            output
                .notices
                .push(unreadable(&name, "the mail holds a picture and no text; ask for the report as PDF with text"));
        }
    }
    Ok(output)
}

/// Reads one attachment into the output, or says why not.
fn attach(
    output: &mut ReadOutput,
    name: &Arc<str>,
    part: &MessagePart<'_>,
    input: &Input<'_>,
    options: &mut ReadOptions,
) {
    if input.depth + 1 > options.limits.mail_depth {
        let text = format!("it stands {} mails deep; save it from its mail and give it on its own", input.depth + 1);
        output.notices.push(unreadable(name, &text));
        return;
    }
    match read_at_depth(name, &bytes_of(part, input.bytes), options, input.depth + 1) {
        Ok((format, mut read)) => {
            for part in read.parts.iter_mut().filter(|part| part.format.is_empty()) {
                part.format = format.to_owned();
            }
            place_in_part(&mut read, name);
            // All attachments share one allowance, so that fifty small bombs are no large one.
            let words = read.parts.iter().flat_map(|p| &p.pages).flat_map(|p| &p.lines).map(|l| l.words.len()).sum();
            options.limits.cells = options.limits.cells.saturating_sub(words);
            output.parts.append(&mut read.parts);
            output.notices.append(&mut read.notices);
        }
        Err(error) => output.notices.push(unreadable(name, &error.text)),
    }
}

fn unreadable(name: &Arc<str>, why: &str) -> Notice {
    Notice {
        kind: NoticeKind::UnreadableAttachment,
        text: format!("attachment {name} was not read: {why}"),
        place: Where::default().in_part(name),
    }
}

/// The lines From, To, Date and Subject, in the order of the file.
fn head(message: &Message<'_>, bytes: &[u8]) -> Page {
    let mut page = Page { char_width: 1.0, ..Page::default() };
    let raw = String::from_utf8_lossy(bytes);
    for (number, line) in (1_u32..).zip(raw.lines()) {
        if line.trim().is_empty() && !page.lines.is_empty() {
            break;
        }
        let Some((name, _)) = line.split_once(':') else { continue };
        let (name, value) = match name.to_ascii_lowercase().as_str() {
            "from" => ("From", message.from().map(shown_address)),
            "to" => ("To", message.to().map(shown_address)),
            "date" => ("Date", message.header_raw("Date").map(|raw| raw.trim().to_owned())),
            "subject" => ("Subject", message.subject().map(ToOwned::to_owned)),
            _ => continue,
        };
        let Some(value) = value.filter(|v| !v.trim().is_empty()) else { continue };
        let shown = super::kit::clean::clean(&format!("{name}: {value}")).replace('\n', " ");
        let words = text::words(&shown, &Where::line(number));
        let top = number.saturating_sub(1) as f32;
        page.lines.push(Line { table: None, words, top, bottom: top + 1.0 });
    }
    page
}

fn shown_address(address: &Address<'_>) -> String {
    let all: Vec<String> = address
        .iter()
        .map(|one| match (one.name(), one.address()) {
            (Some(name), Some(address)) => format!("{name} <{address}>"),
            (Some(one), None) | (None, Some(one)) => one.to_owned(),
            (None, None) => String::new(),
        })
        .collect();
    all.join(", ")
}

/// The pages of the body, and the indices of the parts that it was made from or that are other forms of it.
fn body(message: &Message<'_>, whole: &[u8], notices: &mut Vec<Notice>) -> (Vec<Page>, BTreeSet<usize>) {
    let indices = |list: &[u32]| list.iter().map(|id| *id as usize).collect::<Vec<usize>>();
    let is_body = |index: &usize| message.parts.get(*index).is_some_and(|part| is_body_text(part));
    let plain: Vec<usize> = indices(&message.text_body).into_iter().filter(is_body).collect();
    let rich: Vec<usize> = indices(&message.html_body).into_iter().filter(is_body).collect();
    let says_something = plain.iter().filter_map(|i| message.parts.get(*i)).any(|part| match &part.body {
        PartType::Text(text) => !only_points_elsewhere(text),
        PartType::Html(_) => true,
        _ => false,
    });
    let chosen = if says_something || rich.is_empty() { &plain } else { &rich };
    let mut pages = Vec::new();
    for part in chosen.iter().filter_map(|index| message.parts.get(*index)) {
        match &part.body {
            PartType::Text(_) if is_flowed(part) => {
                pages.push(text::page_of_lines(unflowed(&body_text(part, whole, notices))));
            }
            PartType::Text(_) => pages.push(text::page(&body_text(part, whole, notices))),
            PartType::Html(_) => {
                let (read, hidden) = html::read_text_noticed(&body_text(part, whole, notices), None);
                pages.extend(read);
                notices.extend(hidden);
            }
            _ => {}
        }
    }
    (pages, plain.into_iter().chain(rich).collect())
}

/// The characters of a body. Where no charset is declared, or not the right one, the bytes say more than the head.
fn body_text(part: &MessagePart<'_>, whole: &[u8], notices: &mut Vec<Notice>) -> String {
    let declared = part.text_contents().unwrap_or_default();
    if has_charset(part) && !declared.contains('\u{fffd}') {
        return declared.to_owned();
    }
    match decode(&undecoded(part, whole), None) {
        Ok(Some(decoded)) => {
            notices.extend(text::encoding_notice(decoded.doubt.as_deref()));
            decoded.text
        }
        _ => declared.to_owned(),
    }
}

fn is_body_text(part: &MessagePart<'_>) -> bool {
    part.is_text()
        && part.attachment_name().is_none()
        && part.content_type().is_none_or(|t| {
            t.ctype().eq_ignore_ascii_case("text")
                && t.subtype().is_none_or(|s| ["plain", "html", "enriched"].contains(&s.to_ascii_lowercase().as_str()))
        })
}

/// A plain form that only says to look at the other form.
fn only_points_elsewhere(text: &str) -> bool {
    let text = text.trim().to_lowercase();
    text.is_empty() || (text.len() < 300 && text.contains("html") && !text.chars().any(|c| c.is_ascii_digit()))
}

fn is_flowed(part: &MessagePart<'_>) -> bool {
    part.content_type().and_then(|t| t.attribute("format")).is_some_and(|f| f.eq_ignore_ascii_case("flowed"))
}

/// Joins the lines that a flowed text breaks with a blank at their end (RFC 3676). Columns of print stay as they are.
fn unflowed(text: &str) -> Vec<(u32, String)> {
    let mut lines: Vec<(u32, String)> = Vec::new();
    let mut open = false;
    for (number, line) in (1_u32..).zip(text.lines()) {
        let has_columns = line.trim().contains("  ") || line.contains('\t');
        match lines.last_mut() {
            Some((_, last)) if open && !has_columns && !line.trim().is_empty() && !line.starts_with('>') => {
                last.push_str(line);
            }
            _ => lines.push((number, line.to_owned())),
        }
        open = line.ends_with(' ') && !has_columns && line.len() > 50 && line.trim_end() != "--";
    }
    lines
}

fn is_attachment(message: &Message<'_>, index: usize, part: &MessagePart<'_>) -> bool {
    if part.is_multipart() || part.is_empty() {
        return false;
    }
    // A root part that is no text is the whole mail: a PDF sent bare.
    let is_bare_root = index == 0 && message.parts.len() == 1;
    let ignored = [
        ("application", "pkcs7-signature"),
        ("application", "x-pkcs7-signature"),
        ("application", "pgp-signature"),
        ("text", "vcard"),
        ("text", "x-vcard"),
        ("text", "calendar"),
        ("message", "delivery-status"),
    ];
    (index > 0 || is_bare_root) && !ignored.iter().any(|(kind, sub)| part.is_content_type(kind, sub))
}

fn is_inline_picture(part: &MessagePart<'_>) -> bool {
    let is_picture = part.content_type().is_some_and(|t| t.ctype().eq_ignore_ascii_case("image"));
    let is_attached = part.content_disposition().is_some_and(|d| d.is_attachment());
    is_picture && (!is_attached || part.content_id().is_some())
}

/// The attachment's own name, made different from those before it, or a number where it has none.
fn unused_name(part: &MessagePart<'_>, number: usize, taken: &mut BTreeSet<String>) -> String {
    let own = part.attachment_name().map(|n| super::kit::clean::clean(n).replace(['\n', '\t'], " ").trim().to_owned());
    let base = own.filter(|name| !name.is_empty()).unwrap_or_else(|| {
        let extension = if part.is_message() { ".eml" } else { "" };
        format!("attachment {number}{extension}")
    });
    let mut name = base.clone();
    let mut again = 2;
    while !taken.insert(name.clone()) {
        name = match base.rsplit_once('.') {
            Some((stem, extension)) => format!("{stem} ({again}).{extension}"),
            None => format!("{base} ({again})"),
        };
        again += 1;
    }
    name
}

/// The bytes of a part before any charset was applied.
fn undecoded(part: &MessagePart<'_>, whole: &[u8]) -> Vec<u8> {
    let range = part.raw_body_offset() as usize..part.raw_end_offset() as usize;
    let raw = whole.get(range).unwrap_or_default();
    match part.encoding {
        Encoding::None => raw.to_vec(),
        Encoding::Base64 => base64_decode(raw).unwrap_or_else(|| part.contents().to_vec()),
        Encoding::QuotedPrintable => quoted_printable_decode(raw).unwrap_or_else(|| part.contents().to_vec()),
    }
}

/// The attachment's bytes. Text without a declared charset comes as bytes too, for the readers' own look at it.
fn bytes_of(part: &MessagePart<'_>, whole: &[u8]) -> Vec<u8> {
    match &part.body {
        PartType::Message(_) if part.encoding == Encoding::None => undecoded(part, whole),
        PartType::Text(_) | PartType::Html(_) if !has_charset(part) => undecoded(part, whole),
        _ => part.contents().to_vec(),
    }
}

fn has_charset(part: &MessagePart<'_>) -> bool {
    let charset = part.content_type().and_then(|t| t.attribute("charset"));
    charset.is_some_and(|c| !c.eq_ignore_ascii_case("us-ascii"))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use crate::document::{Document, NoticeKind};
    use crate::readers::{Limits, ReadOptions, read};

    /// Lines as `part/line: text`, the head's with `head`.
    fn lines(document: &Document) -> Vec<String> {
        let mut all = Vec::new();
        for part in &document.parts {
            for (index, page) in part.pages.iter().enumerate() {
                for line in &page.lines {
                    let place = &line.words.first().unwrap().place;
                    assert_eq!(place.part, part.name);
                    let part = part.name.as_deref().unwrap_or(if index == 0 { "head" } else { "" });
                    all.push(format!("{part}/{}: {}", place.line.unwrap_or(0), line.text()));
                }
            }
        }
        all
    }

    fn mail(text: &str) -> Document {
        read("a.eml", text.replace('\n', "\r\n").as_bytes(), &ReadOptions::default()).unwrap()
    }

    const HEAD: &str = "MIME-Version: 1.0\nFrom: =?utf-8?Q?J=C3=B6rg?= <lab@example.org>\nSubject: =?iso-8859-1?Q?Pr=FCfung?=\n =?iso-8859-1?Q?_NB-17?=\nTo: pond@example.org\n";

    #[test]
    fn head_lines_are_decoded_and_stand_at_their_line_of_the_file() {
        let document = mail(&format!(
            "{HEAD}Content-Type: text/plain; charset=utf-8\nContent-Transfer-Encoding: quoted-printable\n\nMoisture: 47.3 =\n%\n\nSize: 640 =C2=B5m\n"
        ));
        assert_eq!(document.source.format, "eml");
        assert_eq!(
            lines(&document),
            [
                "head/2: From: Jörg <lab@example.org>",
                "head/3: Subject: Prüfung NB-17",
                "head/5: To: pond@example.org",
                "/1: Moisture: 47.3 %",
                "/3: Size: 640 µm"
            ]
        );
    }

    fn multipart(kind: &str, parts: &[&str]) -> String {
        let parts: String = parts.iter().map(|p| format!("--cut\n{p}\n")).collect();
        format!("{HEAD}Content-Type: multipart/{kind}; boundary=cut\n\n{parts}--cut--\n")
    }

    #[test]
    fn the_plain_form_wins_unless_it_says_nothing() {
        let rich = "Content-Type: text/html; charset=utf-8\n\n<p>Rich: 1</p>";
        let plain = mail(&multipart("alternative", &["Content-Type: text/plain\n\nPlain: 2", rich]));
        assert_eq!(lines(&plain).last().unwrap(), "/1: Plain: 2");
        for nothing in [" ", "Please view this message in HTML."] {
            let part = format!("Content-Type: text/plain\n\n{nothing}");
            let shown = lines(&mail(&multipart("alternative", &[&part, rich])));
            assert!(shown.last().unwrap().ends_with("Rich: 1"), "{shown:?}");
        }
        let only_rich = mail(&format!("{HEAD}Content-Type: text/html\n\n<p>Rich: 1</p>"));
        assert!(lines(&only_rich).last().unwrap().ends_with("Rich: 1"));
    }

    #[test]
    fn attachments_go_through_the_readers_and_name_themselves() {
        // The attachment is bytes of windows-1252 without a declared charset: "Größe;µm" and "Mittel;640".
        let csv = "Content-Type: application/octet-stream; name=\"=?utf-8?Q?Pr=C3=BCf.csv?=\"\nContent-Transfer-Encoding: base64\n\nR3L232U7tW0KTWl0dGVsOzY0MAo=";
        let text = "Content-Type: text/csv; name=\"b.csv\"\nContent-Disposition: attachment; filename=\"b.csv\"\nContent-Transfer-Encoding: quoted-printable\n\nGr=F6=DFe;=B5m\nMittel;640";
        let document = mail(&multipart("mixed", &["Content-Type: text/plain\n\nsee attached", csv, text, text]));
        let found: Vec<(Option<&str>, &str)> =
            document.parts.iter().map(|p| (p.name.as_deref(), p.format.as_str())).collect();
        assert_eq!(
            found,
            [(None, "eml"), (Some("Prüf.csv"), "csv"), (Some("b.csv"), "csv"), (Some("b (2).csv"), "csv")]
        );
        let shown = lines(&document);
        assert!(shown.contains(&"Prüf.csv/1: Größe µm".to_owned()), "{shown:?}");
        assert!(shown.contains(&"b.csv/2: Mittel 640".to_owned()), "{shown:?}");
        assert!(shown.contains(&"b.csv/1: Größe µm".to_owned()), "{shown:?}");
    }

    #[test]
    fn a_mail_in_a_mail_keeps_its_attachments_names() {
        let inner = format!(
            "Content-Type: message/rfc822\nContent-Disposition: attachment; filename=\"fwd.eml\"\n\n{}",
            multipart(
                "mixed",
                &["Content-Type: text/plain\n\nInner: 1", "Content-Type: text/plain; name=r.txt\n\nIron: 2"]
            )
            .replace("cut", "inner")
        );
        let document = mail(&multipart("mixed", &["Content-Type: text/plain\n\nOuter: 0", &inner]));
        let shown = lines(&document);
        assert!(shown.contains(&"fwd.eml/1: Inner: 1".to_owned()), "{shown:?}");
        assert!(shown.contains(&"r.txt/1: Iron: 2".to_owned()), "{shown:?}");
        assert!(document.notices.is_empty(), "{:?}", document.notices);
    }

    #[test]
    fn what_cannot_be_read_is_said_and_decoration_is_not() {
        let logo = "Content-Type: image/png; name=logo.png\nContent-ID: <a>\nContent-Disposition: inline\nContent-Transfer-Encoding: base64\n\niVBORw0KGgoAAAANSUhEUg==";
        let scan = "Content-Type: image/png; name=scan.png\nContent-Disposition: attachment; filename=scan.png\nContent-Transfer-Encoding: base64\n\niVBORw0KGgoAAAANSUhEUg==";
        let document = mail(&multipart("mixed", &["Content-Type: text/plain\n\nx", logo, scan]));
        assert_eq!(document.notices.len(), 1);
        let notice = document.notices.first().unwrap();
        assert_eq!(notice.kind, NoticeKind::UnreadableAttachment);
        assert_eq!(notice.place.part.as_deref(), Some("scan.png"));
        assert!(notice.text.contains("picture"), "{}", notice.text);
        let only_picture = mail(&multipart("mixed", &[logo]));
        assert_eq!(only_picture.notices.len(), 1);
    }

    #[test]
    fn depth_and_number_of_attachments_are_bounded() {
        let mut mail = format!("{HEAD}Content-Type: text/plain\n\nInnermost: 1\n");
        for level in 0..5 {
            mail = multipart("mixed", &[&format!("Content-Type: message/rfc822; name=m{level}.eml\n\n{mail}")])
                .replace("cut", &format!("cut{level}"));
        }
        let document = read("a.eml", mail.as_bytes(), &ReadOptions::default()).unwrap();
        assert_eq!(document.notices.len(), 1, "{:?}", document.notices);
        let part = "Content-Type: text/plain; name=r.txt\n\nIron: 2";
        let limits = Limits { attachments: 2, ..Limits::default() };
        let options = ReadOptions { limits, ..ReadOptions::default() };
        let document = read("a.eml", multipart("mixed", &[part; 5]).as_bytes(), &options).unwrap();
        assert_eq!((document.parts.len(), document.notices.len()), (3, 1));
    }

    #[test]
    fn a_mail_pasted_into_a_text_file_stays_text() {
        let pasted = "From: lab@example.org\nTo: pond@example.org\nSubject: resin\n\nMoisture: 47.3 %\n";
        let format = |name: &str| read(name, pasted.as_bytes(), &ReadOptions::default()).unwrap().source.format;
        assert_eq!((format("a.txt").as_str(), format("a.eml").as_str()), ("text", "eml"));
    }

    #[test]
    fn a_body_without_a_charset_is_read_from_its_bytes() {
        let mut bytes = format!("{HEAD}Content-Type: text/plain\nContent-Transfer-Encoding: 8bit\n\nGr").into_bytes();
        bytes.extend(b"\xf6\xdfe: 640 \xb5m\n");
        let document = read("a.eml", &bytes, &ReadOptions::default()).unwrap();
        assert_eq!(lines(&document).last().map(String::as_str), Some("/1: Größe: 640 µm"));
    }

    #[test]
    fn a_mailbox_line_may_stand_before_the_head() {
        let document = mail(&format!("From lab Sat Mar  1 10:00:00 2025\n{HEAD}\nMoisture: 47.3 %\n"));
        assert_eq!(document.source.format, "eml");
        assert_eq!(lines(&document).last().map(String::as_str), Some("/1: Moisture: 47.3 %"));
    }

    #[test]
    fn flowed_lines_are_joined_and_columns_are_not() {
        let long = "The total capacity of the sample taken from softener 2 was ";
        let document = mail(&format!(
            "{HEAD}Content-Type: text/plain; format=flowed\n\n{long}\n1.72 eq/L.\nIron   50 mg/kg                                             \nBeads  92 %\n"
        ));
        assert_eq!(
            lines(&document).split_off(3),
            [
                "/1: The total capacity of the sample taken from softener 2 was 1.72 eq/L.",
                "/3: Iron 50 mg/kg",
                "/4: Beads 92 %"
            ]
        );
    }
}
