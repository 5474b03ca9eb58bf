package javax.annotation;

/** Java left this out from its version 11 on; the generated code still names it. */
public @interface Generated {
    String[] value();

    String date() default "";

    String comments() default "";
}
