/* What a shell offers is read off the tables: commands, options, and the words that an option or
 * operand takes where they are known beforehand. */
#include <string.h>
#include "shells.h"

const char *const cli_shells[] = {"bash", "zsh", "fish", NULL};

/* ---- what can stand in a place ---- */

static const char *const pressure_units[] = {"Pa",    "hPa",  "mbar", "ubar", "Torr",
                                             "mTorr", "mmHg", "atm",  "psi",  NULL};
static const char *const methods[] = {"rodas", "rodasp", "rodas4", "msbdf", NULL};

typedef struct words {
    const char *const *word; /* NULL = nothing known */
    bool files;              /* names of files fit */
} words;

static bool ends_with(const char *text, const char *end) {
    size_t n = strlen(text), m = strlen(end);
    return n >= m && strcmp(text + n - m, end) == 0;
}

static words of_option(const cli_option *o) {
    static const struct {
        const char *option;
        const char *const *word;
    } known[] = {
        {"pressure-unit", pressure_units}, {"method", methods}, {"completions", cli_shells}};
    if (!o->argument)
        return (words){NULL, false};
    for (size_t i = 0; i < sizeof known / sizeof *known; i++)
        if (strcmp(known[i].option, o->name) == 0)
            return (words){known[i].word, false};
    return (words){NULL, strstr(o->argument, "FILE") || ends_with(o->argument, ".csv")};
}

enum { MOST_WORDS = 64 };

static words of_operands(const cli_command *command) {
    static const char *found[MOST_WORDS + 1];
    size_t n = 0;
    if (strcmp(command->operands, "TOPIC") == 0)
        return (words){rfy_list_topics(), false};
    if (strcmp(command->operands, "PIECE") == 0) {
        rfy_piece_key key;
        for (size_t i = 0; rfy_piece_key_at(i, &key) && n < MOST_WORDS; i++)
            if (n == 0 || strcmp(found[n - 1], key.kind) != 0)
                found[n++] = key.kind;
    } else if (strcmp(command->operands, "[COMMAND]") == 0) {
        for (; cli_commands[n] && n < MOST_WORDS; n++)
            found[n] = cli_commands[n]->name;
    } else {
        return (words){NULL, *command->operands != '\0'};
    }
    found[n] = NULL;
    return (words){found, false};
}

static void put_words(FILE *out, const char *const *word) {
    for (size_t i = 0; word && word[i]; i++)
        fprintf(out, "%s%s", i ? " " : "", word[i]);
}

/* Within single quotes of a shell; `also` are further signs to be kept by a backslash. */
static void put_quoted(FILE *out, const char *text, const char *also) {
    for (const char *c = text; *c; c++) {
        if (*c == '\'')
            fputs("'\\''", out);
        else if (strchr(also, *c))
            fprintf(out, "\\%c", *c);
        else
            putc(*c, out);
    }
}

/* ---- bash ---- */

static void write_bash(FILE *out) {
    fputs("# Completion of rarefy for bash; made by: rarefy help --completions bash\n"
          "_rarefy() {\n"
          "    local word=${COMP_WORDS[COMP_CWORD]} before= command=${COMP_WORDS[1]-}\n"
          "    local commands='",
          out);
    for (size_t i = 0; cli_commands[i]; i++)
        fprintf(out, "%s%s", i ? " " : "", cli_commands[i]->name);
    fputs("'\n    local options= operands= files=\n"
          "    COMPREPLY=()\n"
          "    if [ \"$COMP_CWORD\" -le 1 ]; then\n"
          "        COMPREPLY=($(compgen -W \"$commands --help --version\" -- \"$word\"))\n"
          "        return\n"
          "    fi\n"
          "    before=${COMP_WORDS[COMP_CWORD-1]}\n"
          "    case $command in\n",
          out);
    for (const cli_command *const *c = cli_commands; *c; c++) {
        words own = of_operands(*c);
        fprintf(out, "    %s)\n        options='", (*c)->name);
        for (const cli_option *o = (*c)->option; o->name; o++) {
            if (o->letter)
                fprintf(out, "-%c ", o->letter);
            fprintf(out, "--%s ", o->name);
        }
        fputs("-h --help'\n        operands='", out);
        put_words(out, own.word);
        fprintf(out, "'\n        files=%s\n        case $before in\n", own.files ? "yes" : "");
        for (const cli_option *o = (*c)->option; o->name; o++) {
            if (!o->argument)
                continue;
            words value = of_option(o);
            fputs("        ", out);
            if (o->letter)
                fprintf(out, "-%c|", o->letter);
            fprintf(out, "--%s) options= operands='", o->name);
            put_words(out, value.word);
            fprintf(out, "' files=%s ;;\n", value.files ? "yes" : "");
        }
        fputs("        esac\n        ;;\n", out);
    }
    fputs("    esac\n"
          "    if [[ $word == -* ]]; then\n"
          "        COMPREPLY=($(compgen -W \"$options\" -- \"$word\"))\n"
          "        return\n"
          "    fi\n"
          "    COMPREPLY=($(compgen -W \"$operands\" -- \"$word\"))\n"
          "    if [ -n \"$files\" ]; then\n"
          "        compopt -o filenames 2>/dev/null\n"
          "        local IFS=$'\\n'\n"
          "        COMPREPLY+=($(compgen -f -- \"$word\"))\n"
          "    fi\n"
          "}\n"
          "complete -F _rarefy rarefy\n",
          out);
}

/* ---- zsh ---- */

static void zsh_value(FILE *out, words value, const char *name) {
    putc(':', out);
    put_quoted(out, name, ":[]\\");
    putc(':', out);
    if (value.word) {
        putc('(', out);
        put_words(out, value.word);
        putc(')', out);
    } else if (value.files) {
        fputs("_files", out);
    }
}

static void write_zsh(FILE *out) {
    fputs(
        "#compdef rarefy\n# Completion of rarefy for zsh; made by: rarefy help --completions zsh\n"
        "_rarefy() {\n    local -a commands\n    commands=(\n",
        out);
    for (const cli_command *const *c = cli_commands; *c; c++) {
        fprintf(out, "        '%s:", (*c)->name);
        put_quoted(out, (*c)->summary, ":\\");
        fputs("'\n", out);
    }
    fputs("    )\n    if (( CURRENT == 2 )); then\n        _describe command commands\n        "
          "return\n    fi\n    shift words\n    (( CURRENT-- ))\n    case $words[1] in\n",
          out);
    for (const cli_command *const *c = cli_commands; *c; c++) {
        fprintf(out, "    %s)\n        _arguments -s \\\n", (*c)->name);
        for (const cli_option *o = (*c)->option; o->name; o++) {
            for (int form = o->letter ? 0 : 1; form < 2; form++) {
                fputs("            '", out);
                if (o->repeats)
                    putc('*', out);
                if (form == 0)
                    fprintf(out, "-%c", o->letter);
                else
                    fprintf(out, "--%s%s", o->name, o->argument ? "=" : "");
                putc('[', out);
                put_quoted(out, o->help, "[]\\");
                putc(']', out);
                if (o->argument)
                    zsh_value(out, of_option(o), o->argument);
                fputs("' \\\n", out);
            }
        }
        fputs("            '(-h --help)'{-h,--help}'[Show this.]'", out);
        if (*(*c)->operands) {
            fputs(" \\\n            '*", out);
            zsh_value(out, of_operands(*c), (*c)->operands);
            putc('\'', out);
        }
        fputs("\n        ;;\n", out);
    }
    fputs("    esac\n}\n_rarefy \"$@\"\n", out);
}

/* ---- fish ---- */

static void fish_value(FILE *out, words value) {
    if (value.word) {
        fputs(" -x -a '", out);
        put_words(out, value.word);
        putc('\'', out);
    } else {
        fputs(value.files ? " -r -F" : " -x", out);
    }
}

static void write_fish(FILE *out) {
    fputs("# Completion of rarefy for fish; made by: rarefy help --completions fish\n"
          "complete -c rarefy -f\n",
          out);
    for (const cli_command *const *c = cli_commands; *c; c++) {
        fprintf(out, "complete -c rarefy -n __fish_use_subcommand -a %s -d '", (*c)->name);
        put_quoted(out, (*c)->summary, "");
        fputs("'\n", out);
    }
    for (const cli_command *const *c = cli_commands; *c; c++) {
        words own = of_operands(*c);
        if (own.word || own.files) {
            fprintf(out, "complete -c rarefy -n '__fish_seen_subcommand_from %s'", (*c)->name);
            if (own.word)
                fish_value(out, own);
            else
                fputs(" -F", out);
            putc('\n', out);
        }
        for (const cli_option *o = (*c)->option; o->name; o++) {
            fprintf(out, "complete -c rarefy -n '__fish_seen_subcommand_from %s' -l %s", (*c)->name,
                    o->name);
            if (o->letter)
                fprintf(out, " -s %c", o->letter);
            if (o->argument)
                fish_value(out, of_option(o));
            fputs(" -d '", out);
            put_quoted(out, o->help, "");
            fputs("'\n", out);
        }
        fprintf(out,
                "complete -c rarefy -n '__fish_seen_subcommand_from %s' -l help -s h -d 'Show "
                "this.'\n",
                (*c)->name);
    }
}

bool cli_write_completions(FILE *out, const char *shell) {
    static void (*const write[])(FILE *) = {write_bash, write_zsh, write_fish};
    for (size_t i = 0; cli_shells[i]; i++)
        if (strcmp(cli_shells[i], shell) == 0) {
            write[i](out);
            return true;
        }
    return false;
}
