# Plain comments become Doxygen's: one at the beginning of a line belongs to what follows, one behind code to that code.
# The header itself stays free of marks.
{
    if (match($0, /\/\*/)) {
        before = substr($0, 1, RSTART - 1)
        mark = before ~ /[^ \t]/ && before !~ /[{(]\s*$/ ? "/**<" : "/**"
        if ($0 ~ /\/\* ---- .* ---- \*\//) mark = "/*"
        $0 = before mark substr($0, RSTART + 2)
    }
    print
}
