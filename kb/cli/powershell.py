"""Completion for PowerShell, in the way click completes for bash, zsh and fish."""

import os

from click.shell_completion import (
    CompletionItem,
    ShellComplete,
    add_completion_class,
    split_arg_string,
)

SOURCE = """\
Register-ArgumentCompleter -Native -CommandName %(prog_name)s -ScriptBlock {
    param($word, $line, $cursor)
    $env:%(complete_var)s = 'powershell_complete'
    $env:COMP_WORDS = $line.ToString()
    $env:COMP_WORD = $word
    & %(prog_name)s | ForEach-Object {
        $value, $help = $_ -split "`t", 2
        $kind = [System.Management.Automation.CompletionResultType]::ParameterValue
        [System.Management.Automation.CompletionResult]::new($value, $value, $kind, $help)
    }
    Remove-Item Env:%(complete_var)s, Env:COMP_WORDS, Env:COMP_WORD
}
"""


@add_completion_class
class PowerShellComplete(ShellComplete):
    """What PowerShell runs once, and what it asks for each word."""

    name = "powershell"
    source_template = SOURCE

    def get_completion_args(self) -> tuple[list[str], str]:
        """The words before the one that is being typed, and that one."""
        words = split_arg_string(os.environ.get("COMP_WORDS", ""))[1:]
        typed = os.environ.get("COMP_WORD", "")
        return (words[:-1] if typed and words and words[-1] == typed else words), typed

    def format_completion(self, item: CompletionItem) -> str:
        """One line: the word, and what it means."""
        return f"{item.value}\t{item.help or item.value}"
