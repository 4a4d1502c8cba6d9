//! Sheets as one page that prints, needs no other file, and loads nothing.

use super::{Block, Sheet};
use crate::report::plain::safe;

const STYLE: &str = "\
body{font:11pt/1.4 system-ui,sans-serif;max-width:46rem;margin:1.5rem auto;padding:0 1rem;color:#111;background:#fff}\
article+article{margin-top:3rem;border-top:1px solid #999;padding-top:1rem}\
h1{font-size:1.5rem;margin:0 0 .2rem}h2{font-size:1.1rem;margin:1.2rem 0 .3rem;border-bottom:1px solid #bbb}\
.under{margin:0;color:#444}.warn{border:2px solid #a00;padding:0 .8rem .5rem;margin:1rem 0}.warn h2{color:#a00;border:0}\
table{border-collapse:collapse;width:100%;font-size:.92em}\
th,td{border-bottom:1px solid #ccc;padding:.2rem .5rem;text-align:right;vertical-align:top}\
th:first-child,td:first-child{text-align:left}\
dl{display:grid;grid-template-columns:minmax(10rem,auto) 1fr;gap:.1rem 1rem;margin:.4rem 0}dt{color:#444}dd{margin:0}\
.check{list-style:none;padding-left:.3rem}.check li{padding-left:1.4em;text-indent:-1.4em}.check li::before{content:'\\2610\\00a0'}\
.blank{border-bottom:1px solid #555;min-height:1.5em}\
@media print{@page{margin:11mm 14mm}html{font-size:9pt}\
body{margin:0;padding:0;max-width:none;font-size:8.7pt;line-height:1.22}\
ul,ol{margin:.15rem 0;padding-left:1.3rem}p{margin:.2rem 0}dl{margin:.15rem 0}\
h1{font-size:1.4rem}h2{margin:.5rem 0 .15rem}.warn{margin:.4rem 0;padding:0 .6rem .25rem}.warn h2{margin:.2rem 0 0}\
article+article{break-before:page;border:0;margin:0;padding:0}\
.dense{columns:2;column-gap:7mm;font-size:7.9pt}.dense h1,.dense .under{column-span:all}\
.dense dl{grid-template-columns:minmax(6rem,auto) 1fr;gap:.05rem .6rem}\
li,tr,.warn{break-inside:avoid}h2{break-after:avoid}}";

/// One page of sheets, each of which begins a new page of paper.
///
/// ```
/// use beadwise::report::sheet::{Block, Section, Sheet, page};
/// let sheet = Sheet {
///     title: "Bed <1>".into(),
///     under: vec![],
///     one_page: false,
///     sections: vec![Section { title: "Do".into(), warns: false, blocks: vec![Block::Text("a & b".into())] }],
/// };
/// let html = page(&[sheet]);
/// assert!(html.contains("Bed &lt;1&gt;") && html.contains("a &amp; b"));
/// assert!(!html.contains("http"), "nothing is loaded from anywhere");
/// ```
pub fn page(sheets: &[Sheet]) -> String {
    let title = sheets.first().map_or(String::new(), |sheet| escaped(&sheet.title));
    let mut out = format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <title>{title}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n"
    );
    for sheet in sheets {
        let class = if sheet.one_page { " class=\"dense\"" } else { "" };
        out.push_str(&format!("<article{class}>\n"));
        out.push_str(&format!("<h1>{}</h1>\n", escaped(&sheet.title)));
        for under in &sheet.under {
            out.push_str(&format!("<p class=\"under\">{}</p>\n", escaped(under)));
        }
        for section in &sheet.sections {
            let class = if section.warns { " class=\"warn\"" } else { "" };
            out.push_str(&format!("<section{class}>\n<h2>{}</h2>\n", escaped(&section.title)));
            section.blocks.iter().for_each(|block| print(block, &mut out));
            out.push_str("</section>\n");
        }
        out.push_str("</article>\n");
    }
    out.push_str("</body>\n</html>\n");
    out
}

fn print(block: &Block, out: &mut String) {
    let list = |tag: &str, items: &[String], open: &str| {
        let items: String = items.iter().map(|item| format!("<li>{}</li>\n", escaped(item))).collect();
        format!("{open}\n{items}</{tag}>\n")
    };
    let pairs = |pairs: &[(String, String)]| {
        let rows: String = pairs
            .iter()
            .map(|(name, value)| {
                let class = if value.is_empty() { " class=\"blank\"" } else { "" };
                format!("<dt>{}</dt><dd{class}>{}</dd>\n", escaped(name), escaped(value))
            })
            .collect();
        format!("<dl>\n{rows}</dl>\n")
    };
    let row = |tag: &str, cells: &[String]| {
        let cells: String = cells.iter().map(|cell| format!("<{tag}>{}</{tag}>", escaped(cell))).collect();
        format!("<tr>{cells}</tr>\n")
    };
    out.push_str(&match block {
        Block::Text(text) => format!("<p>{}</p>\n", escaped(text)),
        Block::Items(items) => list("ul", items, "<ul>"),
        Block::Checks(items) => list("ul", items, "<ul class=\"check\">"),
        Block::Steps(items) => list("ol", items, "<ol>"),
        Block::Pairs(known) | Block::Form(known) => pairs(known),
        Block::Table { head, rows } => {
            let body: String = rows.iter().map(|cells| row("td", cells)).collect();
            format!("<table>\n{}{body}</table>\n", row("th", head))
        }
    });
}

fn escaped(text: &str) -> String {
    let mut out = String::new();
    for c in safe(text).chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}
