# Plain comments become Doxygen's: one at the beginning of a line belongs to what follows, one behind code to that code,
# and one behind the opening brace of a struct or enum to the whole of it. The headers stay free of marks.
inside_comment {
    print
    if ($0 ~ /\*\//) inside_comment = 0
    next
}
/^(typedef )?(struct|enum)[^;]*\{ +\/\*/ && /\*\/$/ {
    open = index($0, "/*")
    print "/** " substr($0, open + 2)
    print substr($0, 1, open - 1)
    next
}
{
    open = index($0, "/*")
    if (open && $0 !~ /\/\* ---- .* ---- \*\// && $0 !~ /^#/) {
        before = substr($0, 1, open - 1)
        mark = before ~ /[^ \t]/ ? "/**<" : "/**"
        inside_comment = $0 !~ /\*\//
        print before mark substr($0, open + 2)
        next
    }
    print
}
