# Weighted least squares by lm(), as anyone would solve a levelling net: Rscript network.r FILE
# FILE: columns y, w, then one per unknown. Prints key and numbers, a line each, to 17 digits.
table <- read.table(commandArgs(trailingOnly = TRUE)[1], header = TRUE)
fit <- lm(y ~ . - 1 - w, data = table, weights = table$w)
known <- summary(fit)$cov.unscaled # the stated uncertainties are taken at their word
show <- function(key, values) cat(key, sprintf("%.17g", values), "\n")
show("x", coef(fit))
show("u", sqrt(diag(known)))
show("chi_square", sum(table$w * resid(fit)^2))
show("freedom", fit$df.residual)
show("p", pchisq(sum(table$w * resid(fit)^2), fit$df.residual, lower.tail = FALSE))
hat <- hatvalues(fit)
show("redundancy", 1 - hat)
show("normalised", sqrt(table$w) * resid(fit) / sqrt(1 - hat))
show("correlation", known[1, 2] / sqrt(known[1, 1] * known[2, 2]))
