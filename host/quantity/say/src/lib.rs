//! `say!`: a sentence with quantities and names in it, written as `format!` is.
//!
//! Use it as `skimgauge_quantity::say!`, where it is explained; this crate has no meaning without
//! that one.

mod template;

use proc_macro::{Delimiter, Group, Ident, Literal, Punct, Spacing, Span, TokenStream, TokenTree};
use template::{Hole, Part, split};

/// A sentence from a template: `say!("{gap} at {name} lies {side} the band")`.
///
/// Holes are filled as in `format!`: `{name}` from a variable or an argument `name = value`, `{}`
/// from the next argument. What fills a hole implements `Say`. A hole has no format (`{:.2}`): a
/// quantity knows its own digits.
#[proc_macro]
pub fn say(input: TokenStream) -> TokenStream {
    expand(input).unwrap_or_else(Fault::into_error)
}

/// What is wrong with a call, and where.
struct Fault {
    at: Span,
    says: String,
}

impl Fault {
    fn new(at: Span, says: impl Into<String>) -> Self {
        Self { at, says: says.into() }
    }

    fn into_error(self) -> TokenStream {
        let says: TokenTree = Literal::string(&self.says).into();
        let parts: [TokenTree; 3] = [
            Ident::new("compile_error", self.at).into(),
            Punct::new('!', Spacing::Alone).into(),
            Group::new(Delimiter::Parenthesis, says.into()).into(),
        ];
        parts.into_iter().map(|part| at(part, self.at)).collect()
    }
}

/// An argument: its name, if it has one, its value, and whether a hole takes it.
struct Argument {
    name: Option<String>,
    value: TokenStream,
    at: Span,
    used: bool,
}

fn expand(input: TokenStream) -> Result<TokenStream, Fault> {
    let mut tokens = input.into_iter();
    let template = unwrapped(tokens.next()).ok_or_else(|| {
        Fault::new(Span::call_site(), "say! wants a text: say!(\"{gap} at {name}\")")
    })?;
    let TokenTree::Literal(literal) = &template else {
        return Err(Fault::new(template.span(), "say! wants a text in quotes first"));
    };
    let literal_at = literal.span();
    let parts = split(&literal.to_string()).map_err(|says| Fault::new(literal_at, says))?;
    let mut arguments = arguments(tokens)?;
    let mut said: TokenStream =
        "::skimgauge_quantity::Sentence::new()".parse().map_err(|_| broken(literal_at))?;
    let mut next = 0;
    for part in parts {
        let (method, inside) = match part {
            Part::Words(source) => {
                ("words", source.parse::<TokenStream>().map_err(|_| broken(literal_at))?)
            }
            Part::Hole(hole) => {
                let value = filling(&hole, &mut arguments, &mut next, literal_at)?;
                let borrowed = [TokenTree::from(Punct::new('&', Spacing::Alone)), grouped(value)];
                ("and", borrowed.into_iter().collect())
            }
        };
        said.extend(call(method, inside, literal_at));
    }
    match arguments.iter().find(|argument| !argument.used) {
        Some(unused) => Err(Fault::new(unused.at, "no hole in the text takes this")),
        None => Ok(said),
    }
}

fn broken(at: Span) -> Fault {
    Fault::new(at, "say! cannot read this text")
}

/// What fills a hole.
fn filling(
    hole: &Hole,
    arguments: &mut [Argument],
    next: &mut usize,
    literal_at: Span,
) -> Result<TokenStream, Fault> {
    match hole {
        Hole::Next => {
            let argument = arguments
                .get_mut(*next)
                .filter(|argument| argument.name.is_none())
                .ok_or_else(|| {
                    Fault::new(literal_at, "there are more {} in the text than values behind it")
                })?;
            *next += 1;
            argument.used = true;
            Ok(argument.value.clone())
        }
        Hole::Named(name) => {
            let named =
                arguments.iter_mut().find(|argument| argument.name.as_deref() == Some(name));
            Ok(match named {
                Some(argument) => {
                    argument.used = true;
                    argument.value.clone()
                }
                // A variable of the caller.
                None => TokenTree::from(Ident::new(name, literal_at)).into(),
            })
        }
    }
}

/// `.method(inside)`
fn call(method: &str, inside: TokenStream, span: Span) -> [TokenTree; 3] {
    let method = Ident::new(method, Span::mixed_site());
    [
        Punct::new('.', Spacing::Alone).into(),
        method.into(),
        at(Group::new(Delimiter::Parenthesis, inside).into(), span),
    ]
}

/// In parentheses: what is borrowed is the whole of it, also of `a - b`.
fn grouped(value: TokenStream) -> TokenTree {
    Group::new(Delimiter::Parenthesis, value).into()
}

fn at(mut token: TokenTree, span: Span) -> TokenTree {
    token.set_span(span);
    token
}

/// A token out of the group that another macro's `$text:literal` puts round it.
fn unwrapped(token: Option<TokenTree>) -> Option<TokenTree> {
    match token? {
        TokenTree::Group(group) if group.delimiter() == Delimiter::None => {
            unwrapped(group.stream().into_iter().next())
        }
        token => Some(token),
    }
}

/// The arguments behind the text, parted at commas.
fn arguments(tokens: impl Iterator<Item = TokenTree>) -> Result<Vec<Argument>, Fault> {
    let mut parts: Vec<Vec<TokenTree>> = Vec::new();
    for token in tokens {
        let is_comma = matches!(&token, TokenTree::Punct(punct) if punct.as_char() == ',');
        match parts.last_mut() {
            _ if is_comma => parts.push(Vec::new()),
            Some(part) => part.push(token),
            None => return Err(Fault::new(token.span(), "a comma is missing behind the text")),
        }
    }
    // A comma may stand at the end.
    if parts.last().is_some_and(Vec::is_empty) {
        parts.pop();
    }
    let mut arguments: Vec<Argument> = Vec::new();
    for part in parts {
        let Some(first) = part.first() else {
            return Err(Fault::new(Span::call_site(), "there is nothing between two commas"));
        };
        let span = first.span();
        let argument = match part.as_slice() {
            [TokenTree::Ident(name), TokenTree::Punct(is), value @ ..]
                if is.as_char() == '=' && is.spacing() == Spacing::Alone && !value.is_empty() =>
            {
                let value = value.iter().cloned().collect();
                Argument { name: Some(name.to_string()), value, at: span, used: false }
            }
            _ if arguments.iter().any(|argument| argument.name.is_some()) => {
                return Err(Fault::new(span, "values without a name come before those with one"));
            }
            _ => Argument { name: None, value: part.into_iter().collect(), at: span, used: false },
        };
        if argument.name.is_some() && arguments.iter().any(|earlier| earlier.name == argument.name)
        {
            return Err(Fault::new(span, "this name is given twice"));
        }
        arguments.push(argument);
    }
    Ok(arguments)
}
