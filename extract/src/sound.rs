//! Words that only sound like the trade's: "crayons" for the creance.

use crate::sheet::Sheet;

/// Gives misheard words the meaning that the sentence bears out.
pub(crate) fn resolve(sheet: &mut Sheet) {
    let ids = sheet.lexicon.heard.ids(&sheet.tokens);
    let mut out: Vec<crate::sheet::Atom> = Vec::with_capacity(sheet.atoms.len());
    let mut i = 0;
    while i < sheet.atoms.len() {
        let atom = &sheet.atoms[i];
        let found = sheet.lexicon.heard.find(&ids, &sheet.tokens, atom.first);
        if let Some(found) = found.filter(|_| atom.bird.is_none() && atom.senses.is_empty() && atom.num.is_none()) {
            let end = atom.first + found.len - 1;
            let mut k = i;
            while k + 1 < sheet.atoms.len() && sheet.atoms[k].last < end {
                k += 1;
            }
            if sheet.atoms[k].last == end {
                out.push(crate::sheet::Atom { first: atom.first, last: end, before: atom.before, senses: found.senses, num: None, bird: None, heard: true });
                i = k + 1;
                continue;
            }
        }
        out.push(atom.clone());
        i += 1;
    }
    sheet.replace_atoms(out);
}
