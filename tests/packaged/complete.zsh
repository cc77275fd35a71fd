#!/usr/bin/env zsh
# What zsh makes of a half-written command: complete.zsh FOLDER-OF-COMPLETIONS LINE. A person's shell in a terminal of its
# own is typed at: the line, Tab, and a key that writes down what then stands there.
zmodload zsh/zpty
local place=$(mktemp -d)
zpty shell "cd $place && TERM=dumb zsh -f -i"
# The folder comes first: nothing else that is installed here is asked.
zpty -w shell "fpath=(${(q)1} \$fpath); autoload -Uz compinit; compinit -u -d $place/dump; setopt no_beep list_ambiguous"
zpty -w shell "written() { print -r -- \"\$BUFFER\" > $place/line; mv $place/line $place/done }; zle -N written; bindkey '^X^W' written"
# Only the line editor reads the keys as they are: the terminal itself would take some of them for its own.
zpty -w shell "zle-line-init() { print ready > $place/ready }; zle -N zle-line-init"
for (( tries = 0; tries < 600; tries++ )); do [[ -e $place/ready ]] && break; sleep 0.1; done
zpty -n -w shell "$2"$'\t\x18\x17'
for (( tries = 0; tries < 600; tries++ )); do [[ -e $place/done ]] && break; sleep 0.1; done
cat $place/done
zpty -d shell
rm -rf $place
