//! A report as one HTML page that prints well: no script, nothing fetched, any alphabet.

use crate::plot::{Anchor, Ink, Plot, Shape};
use crate::sheet::{Block, Look, Run, Sheet, Table};
use maud::{DOCTYPE, Markup, PreEscaped, html};

const STYLE: &str = "\
@page{size:A4;margin:16mm 16mm 18mm}\
:root{color-scheme:light}\
*{box-sizing:border-box}\
body{font:14px/1.45 system-ui,'Noto Sans',sans-serif;color:#16211c;background:#fff;max-width:60rem;margin:0 auto;padding:1.5rem}\
header{border-top:5px solid #1f5f4a;padding-top:.8rem;margin-bottom:1.2rem}\
h1{font-size:1.9rem;line-height:1.15;margin:0}\
h2{font-size:1.3rem;margin:1.8rem 0 .5rem;break-after:avoid}\
h3{font-size:1rem;margin:1.3rem 0 .4rem;color:#1f5f4a;break-after:avoid}\
p{margin:.4rem 0}\
.sub{font-size:1.05rem}.faint{color:#47524c}.fine{font-size:.78em;word-break:break-all;font-variant-numeric:tabular-nums}\
.alarm{color:#8f2418;font-weight:700}\
dl{display:grid;grid-template-columns:repeat(auto-fill,minmax(10.5rem,1fr));gap:.5rem 1rem;margin:.6rem 0;break-inside:avoid}\
dt{font-size:.8em;color:#47524c}dd{margin:0}\
.wide{overflow-x:auto}\
table{border-collapse:collapse;width:100%;font-size:.86em}\
caption{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}\
th,td{text-align:left;vertical-align:top;padding:.35rem .7rem .35rem 0;border-bottom:1px solid #cfd6d2;white-space:pre-line}\
th{font-weight:600;color:#47524c;border-bottom:1.5px solid #16211c}\
.n{text-align:right;font-variant-numeric:tabular-nums}\
thead{display:table-header-group}tr{break-inside:avoid}\
figure{margin:.8rem 0;break-inside:avoid}svg{width:100%;height:auto;display:block}\
.caution{border-left:4px solid #1f5f4a;padding:.3rem .8rem;margin:1rem 0;break-inside:avoid}\
.new{break-before:page}\
.sign{display:flex;gap:2rem;margin-top:3.5rem;break-inside:avoid}.sign div{flex:1;border-top:1px solid #16211c;padding-top:.3rem;font-size:.86em}\
@media print{body{padding:0;max-width:none;font-size:9.5pt}}";

/// Returns the whole page.
pub(crate) fn page(sheet: &Sheet) -> String {
    let mut new_page = false;
    html! {
        (DOCTYPE)
        html lang="en-GB" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width,initial-scale=1";
                title { (sheet.title) ": " (sheet.subtitle) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                header {
                    h1 { (sheet.title) }
                    p class="sub" { (sheet.subtitle) }
                    p class="faint" { (sheet.made) }
                }
                main {
                    @for block in &sheet.blocks {
                        (one(block, std::mem::replace(&mut new_page, matches!(block, Block::PageBreak))))
                    }
                }
            }
        }
    }
    .into_string()
}

fn one(block: &Block, new_page: bool) -> Markup {
    let class = new_page.then_some("new");
    html! {
        @match block {
            Block::Heading(2, text) => { h2 class=[class] { (text) } }
            Block::Heading(_, text) => { h3 class=[class] { (text) } }
            Block::Text(runs) => { p { (words(runs)) } }
            Block::Facts(facts) => { dl { @for (label, value) in facts { div { dt { (label) } dd { (words(value)) } } } } }
            Block::Table(rows) => { (table(rows)) }
            Block::Figure(plot) => { figure { (svg(plot)) } }
            Block::Caution(text) => { p class="caution" { (text) } }
            Block::PageBreak => {}
            Block::Signature(places) => { div class="sign" { @for place in places { div { (place) } } } }
        }
    }
}

fn words(runs: &[Run]) -> Markup {
    html! {
        @for run in runs {
            @match run.look {
                Look::Plain => { (run.text) }
                Look::Strong => { strong { (run.text) } }
                Look::Faint => { span class="faint" { (run.text) } }
                Look::Struck => { s { (run.text) } }
                Look::Fine => { span class="fine" { (run.text) } }
                Look::Alarm => { span class="alarm" { (run.text) } }
            }
        }
    }
}

fn table(table: &Table) -> Markup {
    let class = |i: usize| table.columns[i].right.then_some("n");
    html! {
        // A wide table scrolls within its own frame, which the keyboard can reach.
        div class="wide" tabindex="0" role="group" aria-label=(table.says) {
            table {
                caption { (table.says) }
                thead { tr { @for (i, column) in table.columns.iter().enumerate() { th scope="col" class=[class(i)] { (column.head) } } } }
                tbody { @for row in &table.rows { tr { @for (i, cell) in row.iter().enumerate() { td class=[class(i)] { (words(cell)) } } } } }
            }
        }
    }
}

/// Returns the colour of an ink.
pub(crate) fn colour(ink: Ink) -> [u8; 3] {
    match ink {
        Ink::Text => [0x16, 0x21, 0x1c],
        Ink::Faint => [0x47, 0x52, 0x4c],
        Ink::Rule => [0xcf, 0xd6, 0xd2],
        Ink::Line => [0x1f, 0x5f, 0x4a],
        Ink::Band => [0xdb, 0xe9, 0xe2],
        Ink::Floor => [0x8f, 0x24, 0x18],
    }
}

fn hex(ink: Ink) -> String {
    let [r, g, b] = colour(ink);
    format!("#{r:02x}{g:02x}{b:02x}")
}

fn svg(plot: &Plot) -> Markup {
    let (width, height) = (500.0, 150.0);
    html! {
        svg viewBox=(format!("0 0 {width} {height}")) role="img" aria-label=(plot.says()) xmlns="http://www.w3.org/2000/svg" {
            @for shape in plot.draw(width, height) {
                @match shape {
                    Shape::Area { left, top, width, height, ink } => {
                        rect x=(round(left)) y=(round(top)) width=(round(width)) height=(round(height)) fill=(hex(ink)) {}
                    }
                    Shape::Line { points, ink, width, dashed } => {
                        polyline points=(points.iter().map(|(x, y)| format!("{},{}", round(*x), round(*y))).collect::<Vec<_>>().join(" "))
                            fill="none" stroke=(hex(ink)) stroke-width=(width) stroke-linejoin="round" stroke-dasharray=[dashed.then_some("4 3")] {}
                    }
                    Shape::Dot { x, y, radius, ink } => { circle cx=(round(x)) cy=(round(y)) r=(radius) fill=(hex(ink)) {} }
                    Shape::Text { x, y, size, anchor, ink, text } => {
                        text x=(round(x)) y=(round(y)) font-size=(size) fill=(hex(ink)) font-family="system-ui,sans-serif"
                            text-anchor=(match anchor { Anchor::Start => "start", Anchor::Middle => "middle", Anchor::End => "end" }) { (text) }
                    }
                }
            }
        }
    }
}

/// A tenth of a point is finer than any printer's dot.
fn round(v: f32) -> f32 {
    (v * 10.0).round() / 10.0
}
